"""Changes to a document: each gives a new one and leaves the old as it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ..build.build import Build
from ..site.site import Site
from ..skeleton.pose import Pose
from ..spatial.errors import SkeletonError
from .document import SkeletonDocument


def find_pose(document: SkeletonDocument, name: str) -> Pose:
    """The pose of that name; SkeletonError where there is none."""
    return document.poses[_index(document, name)]


def add_pose(document: SkeletonDocument, pose: Pose) -> SkeletonDocument:
    """Put a pose at the end; SkeletonError where its name is empty or taken."""
    _refuse_taken(document, pose.name)
    return replace(document, poses=(*document.poses, pose))


def replace_pose(document: SkeletonDocument, pose: Pose) -> SkeletonDocument:
    """Put a pose in the place of the one of the same name.

    Raises
    ------
    SkeletonError : there is none, or joint angles would take the place of where elements were mounted
    """
    i = _index(document, pose.name)
    if document.poses[i].mounted and not pose.mounted:
        what = "it keeps where elements were mounted, which joint angles cannot tell"
        raise SkeletonError(f"pose {pose.name}", what, "save under another name")
    return replace(document, poses=(*document.poses[:i], pose, *document.poses[i + 1 :]))


def remove_pose(document: SkeletonDocument, name: str) -> SkeletonDocument:
    """Take a pose out; SkeletonError where there is none of that name."""
    i = _index(document, name)
    return replace(document, poses=(*document.poses[:i], *document.poses[i + 1 :]))


def rename_pose(document: SkeletonDocument, name: str, new_name: str) -> SkeletonDocument:
    """Give a pose another name; SkeletonError where there is none, or the new name is empty or taken."""
    i = _index(document, name)
    if new_name != name:
        _refuse_taken(document, new_name)
    renamed = replace(document.poses[i], name=new_name)
    return replace(document, poses=(*document.poses[:i], renamed, *document.poses[i + 1 :]))


def move_pose(document: SkeletonDocument, name: str, places: int) -> SkeletonDocument:
    """Move a pose down the list by so many places, up where below zero; at an end it stays there."""
    i = _index(document, name)
    others = [*document.poses[:i], *document.poses[i + 1 :]]
    others.insert(min(max(i + places, 0), len(others)), document.poses[i])
    return replace(document, poses=tuple(others))


def order_poses(document: SkeletonDocument, names: Sequence[str]) -> SkeletonDocument:
    """Put the poses into another order; SkeletonError where the names are not those of all poses, each once."""
    known = {pose.name: pose for pose in document.poses}
    if sorted(names) != sorted(known):
        raise SkeletonError("poses", "the order does not name every pose once", "sort the list again")
    return replace(document, poses=tuple(known[name] for name in names))


def duplicate_pose(document: SkeletonDocument, name: str, new_name: str) -> SkeletonDocument:
    """Put a copy of a pose after it; SkeletonError where there is none, or the copy's name is empty or taken."""
    i = _index(document, name)
    _refuse_taken(document, new_name)
    copy = replace(document.poses[i], name=new_name)
    return replace(document, poses=(*document.poses[: i + 1], copy, *document.poses[i + 1 :]))


def note_pose(document: SkeletonDocument, name: str, note: str) -> SkeletonDocument:
    """Give a pose another note; SkeletonError where there is none of that name."""
    return replace_pose(document, replace(find_pose(document, name), note=note))


def propose_name(document: SkeletonDocument, stem: str) -> str:
    """The first free name for a pose: the stem itself, else with the next number from 2 on."""
    taken = {pose.name for pose in document.poses}
    number = 1
    while (name := stem if number == 1 else f"{stem} {number}") in taken:
        number += 1
    return name


def set_build(document: SkeletonDocument, build: Build) -> SkeletonDocument:
    """Give the document another build."""
    return replace(document, build=build)


def set_site(document: SkeletonDocument, site: Site) -> SkeletonDocument:
    """Give the document another site."""
    return replace(document, site=site)


def _index(document: SkeletonDocument, name: str) -> int:
    for i, pose in enumerate(document.poses):
        if pose.name == name:
            return i
    known = ", ".join(pose.name for pose in document.poses) or "none"
    raise SkeletonError(f"pose {name}", "no pose of that name is in the document", f"it holds: {known}")


def _refuse_taken(document: SkeletonDocument, name: str) -> None:
    if not name:
        raise SkeletonError("pose", "its name is empty", "give it a name")
    if any(pose.name == name for pose in document.poses):
        raise SkeletonError(f"pose {name}", "a pose of that name is in the document", "choose another name")
