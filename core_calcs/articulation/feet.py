"""What the skeleton stands on: the ends of the limbs that reach the ground, and their outermost points."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ..skeleton.element import Element
from ..skeleton.joint import Joint
from ..skeleton.tree import Contact, Foot
from ..spatial.transforms import Array, apply

REACH_SHARE = 0.05
"""A limb stands if its lowest point is within this share of the whole's height of the ground."""
FOOT_SHARE = 0.02
"""To the foot belong the elements of the limb that come so near its lowest point."""
_ROWS_AT_ONCE = 20_000


def _spread_directions(count: int) -> Array:
    """Unit directions (count, 3) evenly over the sphere: a spiral that turns by the golden angle at equal heights."""
    k = np.arange(count)
    height = 1 - (2 * k + 1) / count
    turn = k * np.pi * (3 - np.sqrt(5))
    across = np.sqrt(1 - height**2)
    return np.column_stack([across * np.cos(turn), across * np.sin(turn), height])


_DIRECTIONS = _spread_directions(162)


def find_extreme_points(vertices: Array) -> Array:
    """Vertices (k, 3) that lie outermost in one of 162 directions: corners of the convex hull."""
    best = np.full(len(_DIRECTIONS), -np.inf)
    index = np.zeros(len(_DIRECTIONS), np.int64)
    for start in range(0, len(vertices), _ROWS_AT_ONCE):
        reach = vertices[start : start + _ROWS_AT_ONCE] @ _DIRECTIONS.T
        row = reach.argmax(axis=0)
        top = reach[row, np.arange(len(_DIRECTIONS))]
        better = top > best
        best[better], index[better] = top[better], row[better] + start
    points: Array = np.asarray(vertices[np.unique(index)], float)
    return points


def propose_feet(
    elements: Sequence[Element], joints: Sequence[Joint], extremes: Mapping[str, Array]
) -> tuple[Foot, ...]:
    """The feet: for each limb that reaches the ground, the elements that come near its lowest point.

    The ground is the lowest point of the whole. A limb is what hangs together of the series `limb`. Two limbs of one
    side are told apart as fore and hind by how far forward they stand.

    Parameters
    ----------
    extremes : (k, 3) outermost points by element, in its frame E [m]

    Returns
    -------
    Feet from the fore left one on; none where nothing is like a limb on the ground
    """
    by_name = {element.name: element for element in elements}
    world = {name: apply(by_name[name].X_WE, extremes[name]) for name in by_name}
    lowest = {name: float(points[:, 2].min()) for name, points in world.items()}
    ground = min(lowest.values())
    height = max(float(points[:, 2].max()) for points in world.values()) - ground
    standing: list[tuple[str, list[str]]] = []
    for (_, side), limb in _gather_limbs(by_name, joints).items():
        low = min(lowest[name] for name in limb)
        if low <= ground + REACH_SHARE * height:
            standing.append((side, [name for name in limb if lowest[name] <= low + FOOT_SHARE * height]))
    standing.sort(key=lambda foot: -float(np.mean([world[name][:, 0].mean() for name in foot[1]])))
    names = _name_feet(["" if side == "middle" else f"{side} " for side, _ in standing])
    feet = [
        Foot(name, tuple(Contact(element, extremes[element]) for element in limb))
        for name, (_, limb) in zip(names, standing, strict=True)
    ]
    return tuple(sorted(feet, key=lambda foot: ("hind" in foot.name, foot.name)))


def _gather_limbs(by_name: Mapping[str, Element], joints: Sequence[Joint]) -> dict[tuple[str, str], list[str]]:
    """The elements of each limb, by its first and its side.

    They are of the series `limb`, of one side, and hang on one another. What was not recognised, of the series `other`,
    belongs to the limb that it hangs on.
    """
    parent = {joint.child: joint.parent for joint in joints}
    limbs: dict[tuple[str, str], list[str]] = {}
    for name, element in by_name.items():
        own = name
        while by_name[own].series == "other" and parent.get(own) in by_name:
            own = parent[own]
        if by_name[own].series != "limb" or element.series not in ("limb", "other"):
            continue
        top = own
        while parent.get(top) in by_name and by_name[parent[top]].series == "limb":
            top = parent[top]
        limbs.setdefault((top, by_name[own].side), []).append(name)
    return limbs


def _name_feet(sides: Sequence[str]) -> list[str]:
    """Names of feet listed from the front: fore and hind where a side has two, numbered where it has more."""
    names = []
    for i, side in enumerate(sides):
        of_side = sides.count(side)
        rank = sides[:i].count(side)
        if of_side == 1:
            names.append(f"{side}foot")
        elif of_side == 2:
            names.append(f"{('fore', 'hind')[rank]} {side}foot")
        else:
            names.append(f"{side}foot {rank + 1}")
    return names
