"""Light surfaces of every element, for display and dragging only; no figure is ever taken from them."""

from __future__ import annotations

from pathlib import Path

from ..mesh.element_surface import read_element
from ..mesh.proxies import make_proxy
from ..mesh.surface import Surface
from ..skeleton.tree import Skeleton
from ..spatial.progress import Progress, ignore_progress


def make_display_surfaces(
    skeleton: Skeleton, mesh_folder: Path, triangles: int, progress: Progress = ignore_progress
) -> dict[str, Surface]:
    """A display proxy of each element by name, in the element's frame E [m], of no more than that many triangles.

    The files are read one after the other, each of them once.

    Raises
    ------
    MeshFileError : a file is missing or cannot be read
    """
    by_file = sorted(skeleton.elements, key=lambda element: (element.source.file, element.source.body or 0))
    surfaces = {}
    for i, element in enumerate(by_file):
        source = element.source
        progress(f"display of {element.name}", i / len(by_file))
        surfaces[element.name] = make_proxy(
            read_element(mesh_folder, source.file, source.body, source.unit_m), triangles
        )
    return surfaces
