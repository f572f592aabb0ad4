"""Orientation: an element of a row that is more like its neighbours when it is turned by half."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.spatial import cKDTree

from ..spatial.transforms import Array
from .arrangement import Arrangement, Piece
from .clouds import measure_difference
from .finding import Finding, in_mm

REACH = 3
"""Neighbours on each side that are compared with."""
LIKER = 0.76
"""Turned, it differs from its neighbours by less than this share of what it differs by as it stands."""
DIFFERS = 0.005
"""And by at least this share of its diagonal less."""
AGREE = 0.7
"""This share of the neighbours must say the same."""
_Cloud = tuple[Array, cKDTree]
TURNS = (("end for end", 2), ("upside down", 0), ("end for end and upside down", 1))
"""In words, and the axis: along the row, across, and up from it."""


class _Verdict(NamedTuple):
    """How far it differs turned, as a share of how it differs as it stands; what is to be said of it."""

    share: float
    finding: Finding | None


def find_turned(arrangement: Arrangement, known: set[int], off: set[int]) -> dict[int, Finding]:
    """Elements on the mid-line that stand the wrong way round, by number, those that are explained already apart.

    The clearest is taken out of its row first, so that its neighbours are not judged by it.

    off : elements that stand off their row; those near it are judged as well: what is turned about its middle moves off
        the line of centres
    """
    found = {}
    for whole in arrangement.rows:
        row = [i for i in whole if i not in known and (i not in off or _is_near(arrangement, whole, i))]
        if arrangement.pieces[whole[0]].row.side != "middle":
            continue
        verdicts: dict[int, _Verdict] = {}
        while len(row) > REACH:
            clouds = _place(arrangement, row, off)
            for k, i in enumerate(row):
                if i not in verdicts:
                    near = [clouds[m] for m in range(max(0, k - REACH), min(len(row), k + REACH + 1)) if m != k]
                    verdicts[i] = _judge(arrangement.pieces[i], clouds[k], near)
            clear = [i for i in row if verdicts[i].finding is not None]
            if not clear:
                break
            i = min(clear, key=lambda i: verdicts[i].share)
            found[i] = verdicts[i].finding
            k = row.index(i)
            for m in row[max(0, k - REACH) : k + REACH + 1]:
                del verdicts[m]
            del row[k]
    return {i: finding for i, finding in found.items() if finding is not None}


def _is_near(arrangement: Arrangement, row: tuple[int, ...], i: int) -> bool:
    """Whether an element stands within its own diagonal of its neighbours' middle."""
    k = row.index(i)
    around = [arrangement.pieces[row[m]].middle for m in (k - 1, k + 1) if 0 <= m < len(row)]
    piece = arrangement.pieces[i]
    return float(np.linalg.norm(piece.middle - np.mean(around, axis=0))) < piece.diagonal


def _find_frames(arrangement: Arrangement, row: list[int], off: set[int]) -> Array:
    """(n, 3, 3) columns: along the row to its first, across to the left, up; by those that stand in the row."""
    middles = [arrangement.pieces[i].middle for i in row]
    along = np.empty((len(row), 3))
    for k in range(len(row)):
        before = next((m for m in range(k - 1, -1, -1) if row[m] not in off), k)
        behind = next((m for m in range(k + 1, len(row)) if row[m] not in off), k)
        along[k] = middles[before] - middles[behind]
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-12)
    across = np.array([0.0, 1.0, 0.0]) - along[:, 1:2] * along
    across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-12)
    return np.stack([along, across, np.cross(along, across)], axis=2)


def _place(arrangement: Arrangement, row: list[int], off: set[int]) -> list[_Cloud]:
    """Points of each in its place's frame, about its middle, in its own size."""
    clouds: list[_Cloud] = []
    for i, frame in zip(row, _find_frames(arrangement, row, off), strict=True):
        piece = arrangement.pieces[i]
        points = (piece.record.samples_m - piece.middle) @ frame / piece.record.shape.size_m
        clouds.append((points, cKDTree(points)))
    return clouds


def _judge(piece: Piece, own: _Cloud, near: list[_Cloud]) -> _Verdict:
    """Hold an element's points against its neighbours', all of size 1, as it stands and turned."""
    given = np.array([measure_difference(*own, *there) for there in near])
    best, words = given, ""
    for name, axis in TURNS:
        turn = np.where(np.arange(3) == axis, 1.0, -1.0)
        away = np.array([measure_difference(*own, *there, turn) for there in near])
        if away.mean() < best.mean():
            best, words = away, name
    size, share = piece.record.shape.size_m, float(best.mean() / given.mean())
    clear = share < LIKER and (given - best).mean() * size > DIFFERS * piece.diagonal
    if not clear or (best < given).mean() < AGREE:
        return _Verdict(share, None)
    what = (
        f"it seems to stand {words}: turned, its surface is {in_mm(float(best.mean()) * size)} from that of its "
        f"{len(near)} neighbours in the row, as it stands {in_mm(float(given.mean()) * size)}"
    )
    remedy = "compare it with its neighbours, turn it and export it again"
    return _Verdict(share, Finding("orientation", piece.name, what, remedy))
