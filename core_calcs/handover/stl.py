"""Binary STL, written in chunks: a surface of millions of triangles needs little memory besides its own."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..mesh.surface import Surface
from ..spatial.transforms import Array

_CHUNK = 100_000
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
MILLIMETRES = 1000.0


def write_binary_stl(path: Path, surface_E: Surface, X_WE: Array, title: str) -> None:
    """Write a surface, posed, as binary STL in millimetres.

    Parameters
    ----------
    surface_E : surface in the element's frame [m]
    X_WE : (4, 4) from the element's frame to the world
    title : of the header; what is not plain ASCII is left out, and it is cut at 80 characters
    """
    header = f"mm; world axes, z up; {title}".encode("ascii", errors="ignore")[:80].ljust(80)
    with path.open("wb") as file:
        file.write(header)
        file.write(np.uint32(len(surface_E.faces)).astype("<u4").tobytes())
        for start in range(0, len(surface_E.faces), _CHUNK):
            corners_E = surface_E.vertices[surface_E.faces[start : start + _CHUNK]]
            file.write(_triangle_records(corners_E @ X_WE[:3, :3].T + X_WE[:3, 3]).tobytes())


def _triangle_records(corners_W: Array) -> np.ndarray:
    """Triangles (n, 3, 3) [m] as STL records in millimetres; a triangle without area gets no normal."""
    normals = np.cross(corners_W[:, 1] - corners_W[:, 0], corners_W[:, 2] - corners_W[:, 0])
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    records = np.zeros(len(corners_W), _RECORD)
    records["normal"] = np.divide(normals, lengths, out=np.zeros_like(normals), where=lengths > 0)
    records["corners"] = corners_W * MILLIMETRES
    return records
