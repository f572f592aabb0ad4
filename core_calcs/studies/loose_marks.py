"""Facets marked on elements that stand anywhere: kept for the assembly, which mates the elements by them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from ..articulation.marked_facets import read_faces, write_faces
from ..document.document import SkeletonDocument
from ..document.meshes import require_files
from ..skeleton.joint import FacetKind, FacetMark, Joint
from ..skeleton.tree import build_skeleton
from ..spatial.errors import SkeletonError
from .loose_facets import KINDS, paint_mark, prepare_element


def keep_marks(
    document: SkeletonDocument, mesh_folder: Path, joint: Joint, marks: Sequence[FacetMark]
) -> SkeletonDocument:
    """The document with facets marked on the elements of a loose joint; the later mark of a facet counts.

    Raises
    ------
    SkeletonError : it is not said which facet of the vertebra it is, as no place tells; the file has no such faces, or
        they are so few that nothing can be fitted
    DocumentError, MeshFileError : the files are missing, or others than the document was made from
    """
    skeleton = document.skeleton
    kept: dict[tuple[str, FacetKind], FacetMark] = {(mark.element, mark.kind): mark for mark in joint.marks}
    for mark in marks:
        if mark.kind not in KINDS:
            what = f"a facet of {mark.element} is marked, but not which one: a loose element's place does not tell it"
            raise SkeletonError(f"joint of {joint.child}", what, f"say which it is: {', '.join(KINDS)}")
        element = skeleton.elements[skeleton.index(mark.element)]
        require_files([element], mesh_folder)
        paint_mark(mark, element, prepare_element(element, mesh_folder), mesh_folder)
        faces = write_faces(read_faces(mark.faces, f"facet of {mark.element}"))
        kept[mark.element, mark.kind] = replace(mark, faces=faces)
    marked = replace(joint, marks=tuple(kept.values()))
    joints = tuple(marked if own.child == joint.child else own for own in skeleton.joints)
    changed = build_skeleton(skeleton.name, skeleton.elements, joints, skeleton.feet, skeleton.left_out)
    return replace(document, skeleton=changed)
