"""A joint found anew from facets that the user marked on the files of its two elements."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from ..articulation.frames import JointFrame
from ..articulation.marked_facets import find_marked_joint, read_faces, take_marked, transfer_faces, write_faces
from ..articulation.partner import LIMB_CELLS_A_SIZE, Partner, prepare_partner
from ..document.document import SkeletonDocument
from ..document.meshes import require_files
from ..mesh.element_surface import read_element
from ..mesh.reading import find_mesh_file, read_surface
from ..mesh.surface import Surface
from ..skeleton.discs import settle_joint
from ..skeleton.element import Element
from ..skeleton.joint import FacetMark, JointFamily, LimitSettings
from ..skeleton.tree import Skeleton, build_skeleton
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import apply
from .articulate import LIMB_SEARCH_RAD
from .joints_by_hand import keep_turning


def mark_document_joint(
    document: SkeletonDocument,
    mesh_folder: Path,
    child: str,
    marks: Sequence[FacetMark],
    family: JointFamily | None = None,
    settings: LimitSettings | None = None,
    progress: Progress = ignore_progress,
    placed: JointFrame | None = None,
) -> SkeletonDocument:
    """The document with one joint found from facets marked by hand; saved angles stay where it still turns.

    Parameters
    ----------
    marks : of the child, the parent, or both; each once
    family : the joint's, where the user says it; None: the plainest that fits
    settings : of the limits; the defaults of limbs where None
    placed : the frame that the user has given the joint; None: the one that its surfaces tell

    Raises
    ------
    SkeletonError : no such child, the root, a mark on another element, none or two on one, faces that are not there;
        its disc's thickness was set
    DocumentError, MeshFileError : the two elements' files are missing, or others than the document was made from
    """
    skeleton = document.skeleton
    joint = skeleton.joint_of(child)
    if joint.disc is not None:
        what = f"the thickness of its disc was set, by which {child} stands"
        raise SkeletonError(f"joint of {child}", what, "set that disc back to as scanned first")
    ends = [skeleton.elements[skeleton.index(name)] for name in (joint.parent, child)]
    named = [mark.element for mark in marks]
    if not marks or len(set(named)) != len(named) or set(named) - {joint.parent, child}:
        remedy = f"mark a facet on {joint.parent}, on {child}, or one on each"
        raise SkeletonError(f"joint of {child}", f"its facets are marked on {', '.join(named) or 'neither'}", remedy)
    require_files(ends, mesh_folder)
    progress(f"reading {joint.parent} and {child}", 0.1)
    sizes = [float(np.cbrt(max(element.solid.volume_m3, 0.0))) for element in ends]
    partners = [read_partner(element, mesh_folder, min(sizes), LIMB_CELLS_A_SIZE) for element in ends]
    by_name = {element.name: (element, partner) for element, partner in zip(ends, partners, strict=True)}
    marked = {}
    for mark in marks:
        element, partner = by_name[mark.element]
        faces = read_faces(mark.faces, f"facet of {mark.element}")
        marked[mark.element] = take_marked(partner.samples, _read_raw(element, mesh_folder), faces, mark.element)
    progress(f"joint of {child}", 0.5)
    chosen = settings or LimitSettings(search_rad=LIMB_SEARCH_RAD)
    found = find_marked_joint(partners[0], partners[1], marked, family, ends[1].side, chosen, placed)
    kept = tuple(FacetMark(mark.element, write_faces(read_faces(mark.faces, ""))) for mark in marks)
    found = settle_joint(replace(found, marks=kept, placing=joint.placing), placed is not None)
    joints = tuple(found if one.child == child else one for one in skeleton.joints)
    changed = build_skeleton(skeleton.name, skeleton.elements, joints, skeleton.feet, skeleton.left_out)
    return replace(document, skeleton=changed, poses=tuple(keep_turning(pose, changed) for pose in document.poses))


def propose_marked_joint(skeleton: Skeleton, element: str) -> str:
    """The child whose joint a facet on an element is most likely for: an ambiguous one of its joints, else its own.

    Raises
    ------
    SkeletonError : no such element, or one that has no joint at all
    """
    skeleton.index(element)
    own = [joint for joint in skeleton.joints if element in (joint.parent, joint.child)]
    if not own:
        raise SkeletonError(element, "it has no joint", "choose another element")
    likely = [joint.child for joint in own if joint.confidence == "ambiguous"]
    return likely[0] if likely else next((joint.child for joint in own if joint.child == element), own[0].child)


def transfer_mark(element: Element, mesh_folder: Path, proxy: Surface, chosen: Sequence[int]) -> FacetMark:
    """The faces of an element's file that lie under faces chosen on a simpler surface of it.

    Parameters
    ----------
    proxy : in the element's frame [m]; chosen : numbers of its faces

    Raises
    ------
    SkeletonError : nothing is chosen, or no face of the file lies there
    """
    faces = transfer_faces(_read_own(element, mesh_folder), proxy, np.asarray(chosen, np.int64), element.name)
    return FacetMark(element.name, write_faces(faces))


def read_partner(element: Element, mesh_folder: Path, smallest: float, cells_a_size: float) -> Partner:
    """An element of a document as the partner of a joint; smallest : size of its smallest partner [m]."""
    source = element.source
    surface = read_element(mesh_folder, source.file, source.body, source.unit_m)
    placed = Surface(apply(element.X_WE, surface.vertices), surface.faces)
    centre = apply(element.X_WE, element.solid.centre_m[None, :])[0]
    return prepare_partner(element.name, placed, element.solid.volume_m3, centre, smallest, cells_a_size)


def _read_own(element: Element, mesh_folder: Path) -> Surface:
    source = element.source
    return read_surface(find_mesh_file(mesh_folder, source.file), source.unit_m)


def _read_raw(element: Element, mesh_folder: Path) -> Surface:
    """The file as it is written, in the world of the neutral articulation."""
    raw = _read_own(element, mesh_folder)
    return Surface(apply(element.X_WE, raw.vertices), raw.faces)
