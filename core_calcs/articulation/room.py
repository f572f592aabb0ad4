"""A vertebra fitted into the room between its neighbours' end plates, with discs as thick as those beside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh.surface import Surface
from ..mesh.survey import survey_body
from ..mesh.transformed import transform_surface
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, make_transform
from .column import ColumnAxes
from .facets import find_facets
from .partner import Partner, prepare_partner

_ROUNDS = 2
_LEAST, _MOST = 0.75, 1.35
"""So much shorter or longer a vertebra may be made for the room's sake."""
_NO_ROOM = 0.5
"""Of its length: with less between the neighbours there is no place for it."""


@dataclass(frozen=True, eq=False)
class Fitted:
    """X : (4, 4) takes the vertebra to where it fits, stretched along the column

    stretch : by which factor; gaps_m : to the one towards the head and to the one towards the tail, before
    room_m : from end plate to end plate of the neighbours; length_m : of the vertebra between its own, before
    """

    X: Array
    stretch: float
    gaps_m: tuple[float, float]
    room_m: float
    length_m: float


def fit_between(
    vertebra: Surface, headward: Surface, tailward: Surface, axes: Array, disc_m: float | None
) -> Fitted | None:
    """Stretch and move a vertebra along the column so that it fills the room between two; None where it has none of
    their end plates before it.

    Parameters
    ----------
    axes : (3, 3) columns to head, left and back, at the vertebra
    disc_m : how thick the discs on both sides are to be; None: as the stretch leaves them, equal

    Raises
    ------
    SkeletonError : there is no room for it
    """
    directions = ColumnAxes(axes[:, 0], axes[:, 1], axes[:, 2])
    ahead, behind = (_prepare(name, own) for name, own in (("ahead", headward), ("behind", tailward)))
    X, stretch, first = np.eye(4), 1.0, None
    for _ in range(_ROUNDS):
        plates = _find_plates(_prepare("between", transform_surface(vertebra, X)), ahead, behind, directions)
        if plates is None:
            break
        start, front, back, end = plates
        room, length = start - end, front - back
        wanted = room - 2 * disc_m if disc_m is not None else length
        if wanted < _NO_ROOM * length:
            what = f"between its neighbours' end plates are {1000 * room:.3g} mm, it needs {1000 * length:.3g} mm"
            raise SkeletonError("vertebra", f"there is no room for it: {what}", "check whether one is missing there")
        first = first or (start - front, back - end, room, length)
        factor = float(np.clip(stretch * wanted / length, _LEAST, _MOST)) / stretch
        shift = (start + end) / 2 - factor * (front + back) / 2  # along the head's direction
        X, stretch = _stretch(directions.head, factor, shift) @ X, stretch * factor
    if first is None:
        return None
    return Fitted(X, stretch, (first[0], first[1]), first[2], first[3])


def _prepare(name: str, surface: Surface) -> Partner:
    whole, solid = survey_body(surface)
    return prepare_partner(name, whole, solid.volume_m3, solid.centre_m)


def _find_plates(
    between: Partner, ahead: Partner, behind: Partner, axes: ColumnAxes
) -> tuple[float, float, float, float] | None:
    """Where four end plates stand along the column, from the head on."""
    first, second = find_facets(ahead, between, axes).centrum, find_facets(between, behind, axes).centrum
    if first is None or second is None:
        return None
    start, front, back, end = (float(patch.points.mean(axis=0) @ axes.head) for patch in (*first, *second))
    return start, front, back, end


def _stretch(head: Array, factor: float, shift: float) -> Array:
    """(4, 4) stretches along a direction, and moves along it."""
    return make_transform(np.eye(3) + (factor - 1) * np.outer(head, head), shift * head)
