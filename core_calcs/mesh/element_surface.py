"""The surface of an element at full resolution: the one that facets, masses and hand-over all use."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ..spatial.errors import MeshFileError
from .bodies import join_surfaces, merge_vertices, split_bodies
from .reading import find_mesh_file, read_surface
from .surface import Surface
from .winding import repair_body


def read_element(mesh_folder: Path, file: str, body: int | None, unit_m: float) -> Surface:
    """One element's surface in its own frame E (the file's axes) [m]: merged, one skin, wound outwards.

    Parameters
    ----------
    file : relative to the mesh folder; a name that leads out of it is refused
    body : number in the survey's order from 1; None for the whole file

    Raises
    ------
    MeshFileError : the file cannot be read, or has no such body
    """
    bodies = read_bodies(mesh_folder, file, unit_m)
    if not bodies:
        raise MeshFileError(file, "no triangle in it has any area", "export it again, or leave it out in the table")
    if body is None:
        return join_surfaces(bodies)
    if not 1 <= body <= len(bodies):
        raise MeshFileError(file, f"it has no body {body}, only {len(bodies)}", "correct the body in the table")
    return bodies[body - 1]


def read_bodies(mesh_folder: Path, file: str, unit_m: float) -> tuple[Surface, ...]:
    """Every body of a file in the survey's order, each as `read_element` gives it.

    The last file read is kept, so that asking for its bodies one by one reads it once; no second one is ever held.
    The arrays are read-only.
    """
    path = find_mesh_file(mesh_folder, file)
    stamp = path.stat()
    key = (path.resolve(), unit_m, stamp.st_mtime_ns, stamp.st_size)
    if _last.get("key") != key:
        _last.clear()  # first, so that two files are never in memory together
        raw = merge_vertices(read_surface(path, unit_m))
        bodies = tuple(repair_body(body).surface for body in split_bodies(raw))
        for body in bodies:  # the same arrays are handed out again
            body.vertices.flags.writeable = body.faces.flags.writeable = False
        _last.update(key=key, bodies=bodies)
    kept: tuple[Surface, ...] = _last["bodies"]
    return kept


_last: dict[str, Any] = {}
