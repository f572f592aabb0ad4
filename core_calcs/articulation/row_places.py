"""Where an element that is missing in a row would stand, and how large it would be: by those that are there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.spatial.transform import Rotation

from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array

_AROUND = 3
"""Members on each side that the row's line is drawn through."""
_BACK = 2
"""So many steps back the growth along a row is taken from at its end."""
_MOST_GROWTH = 1.25
"""From one element to the next, beyond an end of the row."""
_ACROSS = 0.1


@dataclass(frozen=True, eq=False)
class RowMember:
    """An element of a row.

    number : place in the row, rising
    centre : (3,) of volume, in the world [m]
    second : (3, 3) second moments of the volume about it, over the volume [m2], along the world's axes
    """

    name: str
    number: int
    centre: Array
    second: Array


@dataclass(frozen=True, eq=False)
class RowPlace:
    """A place in a row.

    centre : (3,) in the world [m]
    axes : (3, 3) columns towards the head, to the left, to the back
    radii_m : (3,) root mean square distances of the volume from the centre along them
    """

    centre: Array
    axes: Array
    radii_m: Array


def find_place(members: Sequence[RowMember], name: str, left: Array) -> RowPlace:
    """How a member of a row stands in it: its axes follow the line through the centres; left : (3,) of the animal."""
    i = next(i for i, member in enumerate(members) if member.name == name)
    line, along = _draw_line(members, i, i)
    return _measure(members[i], make_axes(line(along[0], 1), left))


def expect_place(members: Sequence[RowMember], number: int, left: Array) -> RowPlace:
    """Where and how large the element of a number would be: between its neighbours, or one beyond an end of the row.

    Radii follow the neighbours' geometrically, by number; along the line through the centres every element has room in
    proportion to its length. Beyond an end the row goes on as it did: in growth, in the length of its steps and in the
    way it turns from one to the next. Where two neighbours leave no number free it is half-way between them, and
    `number` is that of the first.

    Raises
    ------
    SkeletonError : fewer than two members, or the number is more than one beyond an end
    """
    if len(members) < 2:
        who = members[0].name if members else "row"
        raise SkeletonError(who, "it has no second neighbour in its row to go by", "mirror a bone, or bring one in")
    before = [i for i, member in enumerate(members) if member.number <= number]
    i = before[-1] if before else -1
    if 0 <= i < len(members) - 1:
        return _interpolate(members, i, number, left)
    if i < 0:
        return _extrapolate(members[::-1], number, left, headward=True)
    return _extrapolate(members, number, left, headward=False)


def make_axes(along: Array, left: Array) -> Array:
    """(3, 3) columns to head, left and back, where `along` runs towards the tail."""
    head = -np.asarray(along, float) / np.linalg.norm(along)
    across = left - head * (head @ left)
    if np.linalg.norm(across) < _ACROSS:
        raise SkeletonError("row", "it runs across the animal, so that its back is not known", "mirror a bone instead")
    across = across / np.linalg.norm(across)
    return np.column_stack([head, across, np.cross(head, across)])


def take_radii(second: Array, axes: Array) -> Array:
    """(3,) root mean square distances along axes (3, 3) [m]."""
    radii: Array = np.sqrt(np.clip(np.einsum("ji,jk,ki->i", axes, second, axes), 1e-300, None))
    return radii


def _draw_line(members: Sequence[RowMember], first: int, last: int) -> tuple[CubicSpline, Array]:
    """The curve through the centres about two members, by the way along it, and where these two are on it."""
    low, high = max(0, first - _AROUND + 1), min(len(members), last + _AROUND)
    if high - low < 2:
        low, high = max(0, low - 1), min(len(members), high + 1)
    centres = np.array([member.centre for member in members[low:high]])
    way = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(centres, axis=0), axis=1))]
    if len(way) < 2 or not (np.diff(way) > 0).all():
        raise SkeletonError(members[first].name, "it stands where its neighbour does", "check the table for a copy")
    return CubicSpline(way, centres), way[[first - low, last - low]]


def _measure(member: RowMember, axes: Array) -> RowPlace:
    return RowPlace(member.centre, axes, take_radii(member.second, axes))


def _interpolate(members: Sequence[RowMember], i: int, number: int, left: Array) -> RowPlace:
    one, other = members[i], members[i + 1]
    line, ends = _draw_line(members, i, i + 1)
    radii = np.array(
        [_measure(own, make_axes(line(at, 1), left)).radii_m for own, at in zip((one, other), ends, strict=True)]
    )
    missing = max(other.number - one.number - 1, 1)
    at = max(number - one.number, 1)
    shares = np.arange(missing + 2) / (missing + 1)
    lengths = radii[0, 0] ** (1 - shares) * radii[1, 0] ** shares
    steps = np.cumsum(lengths[:-1] + lengths[1:])
    way = ends[0] + steps[at - 1] / steps[-1] * (ends[1] - ends[0])
    grown = radii[0] ** (1 - shares[at]) * radii[1] ** shares[at]
    return RowPlace(line(way), make_axes(line(way, 1), left), grown)


def _extrapolate(members: Sequence[RowMember], number: int, left: Array, headward: bool) -> RowPlace:
    """One beyond the last of some members, which run towards the head or the tail."""
    last, before = members[-1], members[-2]
    if abs(number - last.number) > 1:
        what = f"between it and number {number} others are missing too"
        raise SkeletonError(last.name, what, "make the one beside it first")
    sense = -1.0 if headward else 1.0
    step = last.centre - before.centre
    turn = np.eye(3)
    if len(members) > 2:
        turn = _turn_least(before.centre - members[-3].centre, step)
    at_last = _measure(last, make_axes(sense * (turn @ step + step), left))
    i = len(members) - 1 - min(_BACK, len(members) - 1)
    back, (line, along) = members[i], _draw_line(members, i, i)
    at_back = _measure(back, make_axes(sense * line(along[0], 1), left)).radii_m
    growth = (at_last.radii_m / at_back) ** (1 / max(abs(last.number - back.number), 1))
    radii = at_last.radii_m * np.clip(growth, 1 / _MOST_GROWTH, _MOST_GROWTH)
    lengths = take_radii(before.second, at_last.axes)[0], at_last.radii_m[0], radii[0]
    steps = max(abs(last.number - before.number), 1)
    onward = turn @ step / steps * (lengths[1] + lengths[2]) / (lengths[0] + lengths[1])
    return RowPlace(last.centre + onward, make_axes(sense * (turn @ turn @ step + turn @ step), left), radii)


def _turn_least(start: Array, end: Array) -> Array:
    """(3, 3) the smallest turn from one direction to another."""
    axis = np.cross(start, end)
    angle = np.arctan2(np.linalg.norm(axis), start @ end)
    length = np.linalg.norm(axis)
    R: Array = Rotation.from_rotvec(axis / length * angle if length > 0 else np.zeros(3)).as_matrix()
    return R
