"""A joint found anew from facets that the user marked on the files of its two elements."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from ..articulation.frames import JointFrame
from ..articulation.marked_facets import read_faces, transfer_faces, write_faces
from ..document.document import SkeletonDocument
from ..document.meshes import require_files
from ..mesh.reading import find_mesh_file, read_surface
from ..mesh.surface import Surface
from ..skeleton.element import Element
from ..skeleton.joint import FacetMark, JointFamily, LimitSettings
from ..skeleton.tree import Skeleton, build_skeleton
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress, ignore_progress
from .articulate import LIMB_SEARCH_RAD
from .joint_cache import JointCache, find_joint
from .joint_search import JointSearch, describe_end, list_rows
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
    cache: JointCache | None = None,
) -> SkeletonDocument:
    """The document with one joint found from facets marked by hand; saved angles stay where it still turns.

    Parameters
    ----------
    marks : of the child, the parent, or both; each once
    family : the joint's, where the user says it; None: the plainest that fits
    settings : of the limits; the defaults of limbs where None
    placed : the frame that the user has given the joint; None: the one that its surfaces tell
    cache : joints found before; one that is there is taken from there

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
    smallest = float(np.cbrt(max(min(element.solid.volume_m3 for element in ends), 0.0)))
    read = [(mark.element, read_faces(mark.faces, f"facet of {mark.element}")) for mark in marks]
    kept = tuple(FacetMark(name, write_faces(faces)) for name, faces in read)
    described = [describe_end(element, smallest, as_limb=True) for element in ends]
    chosen = settings or LimitSettings(search_rad=LIMB_SEARCH_RAD)
    search = JointSearch(described[0], described[1], "marked", chosen, ends[1].side, marks=kept, family=family)
    if placed is not None:
        search = replace(search, X_WJ=list_rows(placed.X_WJ), senses=placed.senses)
    found = replace(find_joint(search, mesh_folder, cache, progress), placing=joint.placing)
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


def _read_own(element: Element, mesh_folder: Path) -> Surface:
    source = element.source
    return read_surface(find_mesh_file(mesh_folder, source.file), source.unit_m)
