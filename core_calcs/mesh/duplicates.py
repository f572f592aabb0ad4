"""Finding the same geometry in the same place a second time."""

from __future__ import annotations

from dataclasses import replace
from pathlib import PurePosixPath

import numpy as np
from scipy.spatial import cKDTree

from ..spatial.transforms import Array
from .records import BodyName, BodyRecord, FileRecord
from .solid import Solid

SAME_SHARE = 1e-4
"""Bounding box, centre and radii of inertia of a duplicate agree within this share of the body's size."""


def mark_duplicates(files: tuple[FileRecord, ...]) -> tuple[FileRecord, ...]:
    """The records with every repetition named.

    A file whose bytes are those of another, or a body whose box, centre and inertia are those of another, repeats it:
    a copy that was moved or mirrored is none. What stands in a file of its own, or of fewer bodies, is the original;
    of several the one of the shortest name, for copies are named by adding to it (`C5 (1)`, `C5 copy`).
    """
    ranked = sorted((file for file in files if file.whole), key=_rank_file)
    wholes = _find_originals([((file.file, None), file.whole) for file in ranked if file.whole])
    bodies: list[tuple[BodyName, BodyRecord]] = []
    for file in ranked:
        bodies += [((file.file, body.number if len(file.bodies) > 1 else None), body) for body in file.bodies]
    originals = _find_originals(bodies)
    by_hash: dict[str, str] = {}
    first_of = {file.file: by_hash.setdefault(file.sha256, file.file) for file in ranked}
    return tuple(_mark_file(file, originals, wholes, first_of) for file in files)


def _rank_file(file: FileRecord) -> tuple[int, int, str]:
    return len(file.bodies), len(PurePosixPath(file.file).stem), file.file


def _mark_file(
    file: FileRecord,
    originals: dict[BodyName, BodyName],
    wholes: dict[BodyName, BodyName],
    first_of: dict[str, str],
) -> FileRecord:
    if file.whole is None:
        return file
    single = len(file.bodies) == 1
    bodies = tuple(
        _mark_body(body, originals.get((file.file, None if single else body.number))) for body in file.bodies
    )
    first = first_of[file.file]
    whole_of: BodyName | None = (first, None) if first != file.file else None
    if single and whole_of is None:
        whole_of = bodies[0].duplicate_of
    if whole_of is None:  # several bodies, each an element's part: their files are held against each other
        whole_of = wholes.get((file.file, None))
    return replace(file, bodies=bodies, whole=_mark_body(file.whole, whole_of))


def _mark_body(body: BodyRecord, original: BodyName | None) -> BodyRecord:
    if original is None:
        return body
    solid = replace(body.solid, states=(*body.solid.states, "duplicate"))
    return replace(body, solid=solid, duplicate_of=original)


def _find_originals(bodies: list[tuple[BodyName, BodyRecord]]) -> dict[BodyName, BodyName]:
    """For every body that repeats an earlier one, that one."""
    if not bodies:
        return {}
    marks = np.stack([_describe(record.solid) for _, record in bodies])
    tree = cKDTree(marks)
    originals: dict[BodyName, BodyName] = {}
    for i, (name, record) in enumerate(bodies):
        reach = SAME_SHARE * float(np.linalg.norm(record.solid.upper_m - record.solid.lower_m))
        earlier = [j for j in tree.query_ball_point(marks[i], reach) if j < i]
        if earlier:
            original = bodies[min(earlier)][0]
            originals[name] = originals.get(original, original)
    return originals


def _describe(solid: Solid) -> Array:
    """Box, centre, size and radii of inertia about the axes [m]."""
    volume = max(solid.volume_m3, 1e-30)
    radii = np.sqrt(np.clip(np.diag(solid.inertia_m5) / volume, 0, None))
    return np.concatenate([solid.lower_m, solid.upper_m, solid.centre_m, [np.cbrt(volume)], radii])
