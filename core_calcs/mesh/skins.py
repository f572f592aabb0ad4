"""Finding surfaces that are there twice, one skin on the other, and keeping one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .boundary import find_open_edges
from .neighbours import colour_patches, find_neighbours
from .surface import Surface

DOUBLED_SHARE = 0.5
"""From this share of triangles that are there twice on, a second skin is looked for."""


def keep_one_skin(body: Surface) -> tuple[Surface, bool]:
    """A body without its second skin or stray repetitions, and whether the skin was doubled.

    The two skins may part where they divide a quadrilateral along different diagonals. What is left over there is
    divided into the two skins: triangles that run along an edge in the same direction belong to different ones. The
    result is used only where it has no more open edges than the body had.
    """
    same_way = _number_groups(_turn_to_least(body.faces))
    first, repeats = _first_of_groups(same_way)
    if len(first) < len(body.faces):
        single = Surface(body.vertices, _pick_skin(body.faces, first, repeats))
        if len(find_open_edges(single)) <= len(find_open_edges(body)):
            doubled = repeats[repeats > 1].sum() >= DOUBLED_SHARE * len(body.faces)
            return single, bool(doubled)
    any_way = _number_groups(np.sort(body.faces, axis=1))
    first, repeats = _first_of_groups(any_way)
    if (repeats > 1).all():  # two skins back to back
        return Surface(body.vertices, body.faces[np.sort(first)]), True
    return body, False


def _pick_skin(faces: NDArray[np.int64], first: NDArray[np.int64], repeats: NDArray[np.int64]) -> NDArray[np.int64]:
    """The faces that are there twice, once, and of those that are there once the ones of one skin."""
    if repeats[repeats > 1].sum() < DOUBLED_SHARE * len(faces):
        return faces[np.sort(first)]
    alone = first[repeats == 1]
    pairs, agree = find_neighbours(faces[alone])
    other_skin = colour_patches(len(alone), pairs, agree)
    kept: NDArray[np.int64] = faces[np.sort(np.concatenate([first[repeats > 1], alone[~other_skin]]))]
    return kept


def _turn_to_least(faces: NDArray[np.int64]) -> NDArray[np.int64]:
    """Every face begun at its lowest index, its winding kept."""
    return np.take_along_axis(faces, (np.argmin(faces, axis=1)[:, None] + np.arange(3)) % 3, axis=1)


def _number_groups(rows: NDArray[np.int64]) -> NDArray[np.int64]:
    """(m,) a number for each row (m, 3), equal for equal rows."""
    n = int(rows.max(initial=0)) + 1
    if n < 2_097_152:  # three indices fit one key of 63 bits
        return (rows[:, 0] * n + rows[:, 1]) * n + rows[:, 2]
    return np.unique(rows, axis=0, return_inverse=True)[1].reshape(-1).astype(np.int64)


def _first_of_groups(numbers: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    _, first, repeats = np.unique(numbers, return_index=True, return_counts=True)
    return first.astype(np.int64), repeats.astype(np.int64)
