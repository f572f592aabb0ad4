"""What touches the ground, named by the user: besides the feet that were proposed, or instead of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from ..articulation.feet import find_extreme_points
from ..document.document import SkeletonDocument
from ..document.editing import find_pose, replace_pose
from ..document.meshes import require_files
from ..mesh.element_surface import read_element
from ..site.consistency import keep_footings
from ..skeleton.element import Element
from ..skeleton.pose import Pose
from ..skeleton.tree import Contact, Foot, Skeleton, build_skeleton
from ..spatial.errors import SkeletonError

TAIL = "tail"


def propose_contact_name(skeleton: Skeleton, elements: Sequence[str]) -> str:
    """A name that is free: the tail's for its vertebrae, else the first element's."""
    taken = {foot.name for foot in skeleton.feet}
    series = {skeleton.elements[skeleton.index(name)].series for name in elements}
    stem = TAIL if series == {"caudal"} else elements[0]
    number = 1
    while (name := stem if number == 1 else f"{stem} {number}") in taken:
        number += 1
    return name


def add_contact(document: SkeletonDocument, name: str, elements: Sequence[str], mesh_folder: Path) -> SkeletonDocument:
    """The document with elements that touch the ground as one, under a name beside the feet.

    Which of their points touch follows from the pose: the outermost vertices of each full-resolution surface are kept
    (`articulation.feet.find_extreme_points`).

    Raises
    ------
    SkeletonError : no name or one that is taken, no element, one that is not there or touches the ground already
    DocumentError : a mesh file of theirs is missing or no longer as the document records it
    MeshFileError : it cannot be read
    """
    skeleton = document.skeleton
    name = name.strip()
    _refuse_contact(skeleton, name, elements)
    chosen = [skeleton.elements[skeleton.index(element)] for element in elements]
    require_files(chosen, mesh_folder)
    contacts = tuple(find_contact(element, mesh_folder) for element in chosen)
    return _set_feet(document, (*skeleton.feet, Foot(name, contacts, "by hand")))


def find_contact(element: Element, mesh_folder: Path) -> Contact:
    """The points by which an element may touch the ground, from its file; MeshFileError where it cannot be read."""
    source = element.source
    surface = read_element(mesh_folder, source.file, source.body, source.unit_m)
    return Contact(element.name, find_extreme_points(surface.vertices))


def _refuse_contact(skeleton: Skeleton, name: str, elements: Sequence[str]) -> None:
    if not name:
        raise SkeletonError("contact", "its name is empty", "give it a name")
    if any(foot.name == name for foot in skeleton.feet):
        raise SkeletonError(f"contact {name}", "something of that name touches the ground", "choose another name")
    if not elements:
        raise SkeletonError(f"contact {name}", "no element is named", "name what touches the ground")
    holders = {contact.element: foot.name for foot in skeleton.feet for contact in foot.contacts}
    for i, element in enumerate(elements):
        skeleton.index(element)
        if element in elements[:i]:
            raise SkeletonError(f"contact {name}", f"{element!r} is named twice", "name it once")
        if element in holders:
            what = f"{element!r} touches the ground as part of {holders[element]!r}"
            raise SkeletonError(f"contact {name}", what, f"leave it out, or remove {holders[element]!r} first")


def remove_contact(document: SkeletonDocument, name: str) -> SkeletonDocument:
    """The document without a foot or contact and its footing; saved poses no longer say whether it bears.

    Raises
    ------
    SkeletonError : there is none of that name
    """
    gone = document.skeleton.foot_index(name)
    feet = tuple(foot for i, foot in enumerate(document.skeleton.feet) if i != gone)
    poses = tuple(let_bear(pose, name, True) for pose in document.poses)
    site = replace(document.site, footings=keep_footings(document.site, feet))
    return _set_feet(replace(document, poses=poses, site=site), feet)


def set_bearing(document: SkeletonDocument, pose: str, foot: str, bears: bool) -> SkeletonDocument:
    """The document with a foot that bears, or does not, in a saved pose; SkeletonError where either is not there."""
    document.skeleton.foot_index(foot)
    return replace_pose(document, let_bear(find_pose(document, pose), foot, bears))


def let_bear(pose: Pose, foot: str, bears: bool) -> Pose:
    """The pose with a foot that bears, or does not."""
    others = tuple(name for name in pose.idle_feet if name != foot)
    return replace(pose, idle_feet=others if bears else (*others, foot))


def _set_feet(document: SkeletonDocument, feet: tuple[Foot, ...]) -> SkeletonDocument:
    old = document.skeleton
    return replace(document, skeleton=build_skeleton(old.name, old.elements, old.joints, feet, old.left_out))
