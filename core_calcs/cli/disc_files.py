"""What `counterpoise discs --write` does."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..document.meshes import locate_mesh_folder
from ..document.reading import read_document
from ..handover.folders import replace_folder
from ..handover.names import safe_file_names
from ..handover.stl import write_binary_stl
from ..spatial.errors import CounterpoiseError
from ..studies.disc_surfaces import DiscSurface, make_disc_surfaces
from .terminal import Terminal


def run_write_discs(
    terminal: Terminal, document_path: Path, joints: tuple[str, ...], folder: Path, says_more: bool
) -> None:
    """Write the surfaces of discs at neutral, one file a joint, into a new folder; the document stays as it is.

    joints : children; none: all that leave a gap; says_more : other options were given, which would change discs
    """
    if says_more:
        raise CounterpoiseError("discs", "surfaces are written as they are", "give --write with --joint or --all alone")
    document = read_document(document_path)
    meshes = locate_mesh_folder(document, document_path)
    with terminal.show_progress() as progress:
        discs = make_disc_surfaces(document, meshes, joints, progress)
    files = safe_file_names([disc.child for disc in discs], suffix="_disc_mm.stl")
    with replace_folder(folder) as beside:
        for disc in discs:
            title = f"disc between {disc.parent} and {disc.child}"
            write_binary_stl(beside / files[disc.child], disc.surface, np.eye(4), title)
    heads = ("disc of", "on", "gap mm", "ventral mm", "dorsal mm", "volume cm³", "file")
    rows = [
        (d.child, d.parent, f"{1000 * d.gap_m:.1f}", *_tell_heights(d), f"{1e6 * d.volume_m3:.4g}", files[d.child])
        for d in discs
    ]
    terminal.show_table(heads, rows, right=(2, 3, 4, 5))
    terminal.show_line()
    terminal.show_line(f"{folder}: written, {len(discs)} discs as they lie at neutral, in mm")
    terminal.show_result(
        {
            "folder": str(folder),
            "discs": [
                {
                    "child": d.child,
                    "parent": d.parent,
                    "gap_m": d.gap_m,
                    "ventral_m": d.heights.ventral_m if d.heights else None,
                    "dorsal_m": d.heights.dorsal_m if d.heights else None,
                    "volume_m3": d.volume_m3,
                    "file": files[d.child],
                }
                for d in discs
            ],
        }
    )


def _tell_heights(disc: DiscSurface) -> tuple[str, str]:
    """Ventral and dorsal height in millimetres."""
    if disc.heights is None:
        return "not known", "not known"
    return f"{1000 * disc.heights.ventral_m:.1f}", f"{1000 * disc.heights.dorsal_m:.1f}"
