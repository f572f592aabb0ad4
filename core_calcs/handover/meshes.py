"""Posed meshes from the full-resolution files: each file is read once, one at a time, for all poses together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..document.document import SkeletonDocument
from ..document.meshes import check_meshes, locate_mesh_folder
from ..mesh.element_surface import read_element
from ..mesh.proxies import make_proxy
from ..mesh.surface import Surface
from ..skeleton.element import Element
from ..skeleton.tree import Skeleton
from ..spatial.errors import DocumentError
from ..spatial.progress import Progress
from ..spatial.transforms import Array
from .glb import GlbGeometry
from .outline import cell_size, sample_surface
from .stl import write_binary_stl

GLB_TRIANGLES = 5_000_000
"""Above so many triangles in all, the GLB of the whole is simplified; the meshes of the elements never are."""

FEWEST = 200
"""Triangles that even a small element keeps there."""


@dataclass(frozen=True, eq=False)
class MeshTarget:
    """Where the meshes of one pose go.

    folder : that exists
    X_WE : (n, 4, 4) where the pose puts every element
    """

    folder: Path
    X_WE: Array


@dataclass(frozen=True, eq=False)
class WrittenMeshes:
    """What became of the surfaces.

    samples_E : points on every element's surface, element frames [m], in the skeleton's order
    triangles : of all elements at full resolution
    """

    samples_E: tuple[Array, ...]
    triangles: int


def verify_sources(document: SkeletonDocument, document_path: Path, progress: Progress) -> None:
    """Compare every full-resolution file with the SHA-256 that the document records.

    Raises
    ------
    DocumentError : files are missing or changed; it names them
    """
    wrong = [check for check in check_meshes(document, document_path, progress) if check.state != "as recorded"]
    if not wrong:
        return
    names = ", ".join(str(check) for check in wrong[:5]) + (f" and {len(wrong) - 5} more" if len(wrong) > 5 else "")
    what = f"mesh files are not as the document records them: {names}"
    raise DocumentError(str(document_path), what, "put the files back, or survey the meshes again")


def write_meshes(
    document: SkeletonDocument,
    document_path: Path,
    files: Mapping[str, str],
    targets: Sequence[MeshTarget],
    geometry: GlbGeometry,
    progress: Progress,
) -> WrittenMeshes:
    """Write every element's posed surface for every pose, and add it to the geometry of the GLB.

    Parameters
    ----------
    files : name of every element's file, by element

    Raises
    ------
    DocumentError : a file no longer holds what the document records
    MeshFileError : a file cannot be read
    """
    elements = document.skeleton.elements
    mesh_folder = locate_mesh_folder(document, document_path)
    keep = glb_share(document.skeleton)
    cell = cell_size(document.skeleton)
    samples: dict[int, Array] = {}
    triangles = 0
    for done, i in enumerate(_by_file(elements)):
        element = elements[i]
        progress(f"writing {element.name}", done / len(elements))
        surface_E = _read_as_recorded(mesh_folder, element)
        triangles += len(surface_E.faces)
        for target in targets:
            write_binary_stl(target.folder / files[element.name], surface_E, target.X_WE[i], element.name)
        samples[i] = sample_surface(surface_E, cell)
        most = len(surface_E.faces) if keep == 1 else max(FEWEST, int(keep * len(surface_E.faces)))
        geometry.append(element.name, make_proxy(surface_E, most))
    return WrittenMeshes(tuple(samples[i] for i in range(len(elements))), triangles)


def glb_share(skeleton: Skeleton) -> float:
    """The share of the triangles that the GLB of the whole keeps."""
    total = sum(element.solid.triangles for element in skeleton.elements)
    return min(1.0, GLB_TRIANGLES / max(total, 1))


def _by_file(elements: Sequence[Element]) -> list[int]:
    """Indices of the elements, those of one file together, so that it is read once."""
    first: dict[tuple[str, float], int] = {}
    for element in elements:
        first.setdefault((element.source.file, element.source.unit_m), len(first))
    places = [first[element.source.file, element.source.unit_m] for element in elements]
    return sorted(range(len(elements)), key=places.__getitem__)


def _read_as_recorded(mesh_folder: Path, element: Element) -> Surface:
    source = element.source
    surface = read_element(mesh_folder, source.file, source.body, source.unit_m)
    if len(surface.faces) != element.solid.triangles:
        where = f"{element.name} ({source.file}{'' if source.body is None else f', body {source.body}'})"
        what = f"the file holds {len(surface.faces)} triangles of it, the document records {element.solid.triangles}"
        raise DocumentError(where, what, "survey the meshes again")
    return surface
