"""Light surfaces of elements, for display and dragging only; no figure is ever taken from them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ..mesh.colours import pick_colours, read_colours
from ..mesh.element_surface import read_element
from ..mesh.proxies import cluster_vertices, make_proxy
from ..mesh.reading import find_mesh_file
from ..mesh.surface import Surface
from ..skeleton.element import Element
from ..spatial.progress import Progress, ignore_progress


def make_display_surfaces(
    elements: Sequence[Element], mesh_folder: Path, triangles: int, progress: Progress = ignore_progress
) -> dict[str, Surface]:
    """A display proxy of each element by name, in the element's frame E [m], of no more than that many triangles.

    It has the colours of its scan, where that has any. The files are read one after the other, each of them once, those
    with colours twice. Colours that cannot be read are no error: the surface has their fault.

    Raises
    ------
    MeshFileError : a file is missing or cannot be read
    """
    by_file = sorted(elements, key=lambda element: (element.source.file, element.source.body or 0))
    surfaces: dict[str, Surface] = {}
    colours, last, faults = None, ("", 0.0), list[str]()
    for i, element in enumerate(by_file):
        source = element.source
        progress(f"display of {element.name}", i / len(by_file))
        proxy = make_proxy(read_element(mesh_folder, source.file, source.body, source.unit_m), triangles)
        if last != (source.file, source.unit_m):
            last = (source.file, source.unit_m)
            faults = []
            colours = read_colours(find_mesh_file(mesh_folder, source.file), source.unit_m, faults)
        own = None if colours is None else pick_colours(colours, proxy.vertices)
        fault = f"{source.file}: {faults[0]}" if faults else ""
        surfaces[element.name] = replace(proxy, colours=own, colours_fault=fault)
    return surfaces


def coarsen_surfaces(surfaces: Mapping[str, Surface], cell_m: float) -> dict[str, Surface]:
    """Coarser ones by name, for what is drawn many times over: nothing finer than a cell stays; none without faces."""
    coarse = {name: cluster_vertices(surface, cell_m) for name, surface in surfaces.items() if len(surface.faces)}
    return {name: own if len(own.faces) else surfaces[name] for name, own in coarse.items()}
