"""Facets marked by hand, of the column and of limbs: the joint that they tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from ..document.document import SkeletonDocument
from ..skeleton.discs import take_discs_out
from ..skeleton.joint import FacetMark, JointFamily, LimitSettings
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress, ignore_progress
from .joint_cache import JointCache
from .loose_facets import is_loose
from .loose_marks import keep_marks
from .marked_joints import mark_document_joint
from .searched_joints import are_of_column, exchange_joints, search_scanned


def mark_facets(
    document: SkeletonDocument,
    mesh_folder: Path,
    child: str,
    marks: Sequence[FacetMark],
    family: JointFamily | None = None,
    progress: Progress = ignore_progress,
    cache: JointCache | None = None,
) -> SkeletonDocument:
    """The document with one joint found from facets marked by hand; saved angles stay where it still turns.

    Of neighbours in the column the facets marked are end plates and zygapophyses, by their kind or else by their place.
    With a family, and of all other joints, they are surfaces of a limb's joint. Earlier marks of other facets stay.
    Of a joint whose elements stand anywhere the marks are kept for the assembly, and nothing is looked for.

    Parameters
    ----------
    marks : of the child, the parent, or both
    family : of a limb's joint, where the user says it; None: the plainest that fits
    cache : of joints that were found before; None: none

    Raises
    ------
    SkeletonError : no such child, the root, a mark on another element, none or two of one facet, faces that are not
        there, nothing that faces a marked facet; of a loose joint, a facet whose kind is not said
    DocumentError, MeshFileError : the two elements' files are missing, or others than the document was made from
    """
    scanned = replace(document, skeleton=take_discs_out(document.skeleton))
    joint = scanned.skeleton.joint_of(child)
    kinds = {mark.kind for mark in marks} - {"articular surface"}
    column = family is None and are_of_column(document.skeleton, joint) and bool(marks)
    if not column:
        if kinds:
            what = f"its {', '.join(sorted(kinds))} is marked, but it is looked for as a joint of a limb"
            raise SkeletonError(f"joint of {child}", what, "give no kind of facet, and no family of a vertebra's joint")
        named = {mark.element for mark in marks}
        kept = [mark for mark in joint.marks if mark.element not in named and mark.kind == "articular surface"]
        return mark_document_joint(
            document, mesh_folder, child, [*marks, *kept], family, progress=progress, cache=cache
        )
    if astray := {mark.element for mark in marks} - {joint.parent, child}:
        remedy = f"mark facets on {joint.parent} and {child}"
        raise SkeletonError(f"joint of {child}", f"a facet is marked on {', '.join(sorted(astray))}", remedy)
    if is_loose(joint):
        return keep_marks(document, mesh_folder, joint, marks)
    both = replace(joint, marks=(*joint.marks, *marks))
    if joint.kind == "by hand":
        both = replace(both, confidence="none")  # its centre and axes are those of the facets now
    settings = joint.settings or LimitSettings()
    return exchange_joints(scanned, [search_scanned(scanned, mesh_folder, both, settings, progress, cache)])
