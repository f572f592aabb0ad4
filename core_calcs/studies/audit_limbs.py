"""The orientation audit of limbs and girdles of a document: bones that stand in each other's place."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ..articulation.bones import Bone
from ..articulation.exchanged import audit_bones
from ..articulation.pairs import BESIDE, PAIRED
from ..document.document import SkeletonDocument
from ..document.meshes import require_files
from ..mesh.element_surface import read_element
from ..skeleton.element import Element
from ..skeleton.verdict import Verdict
from ..spatial.progress import Progress, ignore_progress, part_of

_READING = 0.1
"""Share of the work that reading the elements takes."""


def audit_limbs(
    document: SkeletonDocument, mesh_folder: Path, progress: Progress = ignore_progress
) -> tuple[Verdict, ...]:
    """Say of the bones of limbs and girdles that have a partner on the other side whether they are exchanged.

    See `articulation.exchanged.audit_bones`. Elements are judged where they stand at neutral; one that encloses no
    volume is left out, and so is its partner. About a minute for a skeleton of 60 pairs.

    Parameters
    ----------
    progress : told often; may raise Cancelled

    Raises
    ------
    DocumentError, MeshFileError : a file of these elements is missing, or another than the document was made from
    """
    elements = [element for element in document.skeleton.elements if element.series in BESIDE]
    if not any(element.series in PAIRED and element.side == "left" for element in elements):
        return ()
    require_files(elements, mesh_folder)
    bones = _read_bones(elements, mesh_folder, part_of(progress, 0, _READING))
    return audit_bones(bones, part_of(progress, _READING, 1))


def _read_bones(elements: Sequence[Element], mesh_folder: Path, progress: Progress) -> list[Bone]:
    """File by file, so that a file of many bodies is read once; in the order of the skeleton."""
    bones = {}
    for k, element in enumerate(sorted(elements, key=lambda own: (own.source.file, own.source.body or 0))):
        progress(f"reading {element.name}", k / len(elements))
        source = element.source
        surface = read_element(mesh_folder, source.file, source.body, source.unit_m)
        bones[element.name] = Bone(element.name, element.series, element.side, surface, element.X_WE)
    return [bones[element.name] for element in elements]
