"""Vertebrae of a series that stand in each other's place: along a column like lies beside like.

Each vertebra is laid upon others by the middle and directions of its own centrum and held against them in its true
size. Two stand in each other's place where exchanging them brings every vertebra near them closer to what is like it,
and such an exchange of others nearby would do the reverse. A column whose neighbours are all alike tells no order.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from ..inspection.clouds import measure_difference
from ..skeleton.verdict import Rating, Verdict
from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import Array, invert
from .column_seating import move_cloud, seat
from .motions import move_rigidly
from .vertebrae import Vertebra, list_neighbours

FARTHEST = 4
"""Two so many places apart are tried at most."""
REACH = 3
"""Vertebrae up to so many places off are held against each of the two; nearer ones count more, as 1 / places."""
AROUND = 5
"""The order is asked of other pairs whose first stands so many places off at most."""
LEAST_S = 0.006
"""Exchanged, vertebrae must be so much nearer to their like, on the mean …"""
SHARE = 0.6
"""… and by this share of what others nearby, as far apart, are farther when they are exchanged."""
ORDERED, FEWEST = 0.8, 3
"""This share of the others, and so many of them at least, must be farther then: else the series tells no order."""


@dataclass(frozen=True, eq=False)
class _Order:
    """A column in an order that may be changed.

    differs_s : (n, n) mean distances of the elements laid upon each other, in their sizes; NaN where not measured
    place : by place, which element stands there
    series : by place; told : by element, whether its own shape tells its directions
    """

    differs_s: Array
    place: tuple[int, ...]
    series: tuple[str, ...]
    told: tuple[bool, ...]

    def holds(self, i: int, series: str) -> bool:
        """Whether at a place stands an element of that series whose shape tells."""
        return 0 <= i < len(self.place) and self.series[i] == series and self.told[self.place[i]]

    def exchange(self, i: int, j: int) -> _Order:
        place = list(self.place)
        place[i], place[j] = place[j], place[i]
        return replace(self, place=tuple(place))


@dataclass(frozen=True)
class _Exchange:
    """Two places; gained_s: how much nearer to their like vertebrae are exchanged; lost_s: how much farther others."""

    one: int
    other: int
    gained_s: float
    lost_s: float


def find_exchanged(
    column: Sequence[Vertebra], apart_from: Collection[int] = (), progress: Progress = ignore_progress
) -> tuple[Verdict, ...]:
    """Say which vertebrae stand in each other's place: nothing is said of the others.

    A vertebra whose canal is not to be seen, and a ring without centrum, tell no directions and are left out.

    Parameters
    ----------
    column : from the head to the tail, none turned
    apart_from : numbers of those that are not judged

    Returns
    -------
    Verdicts of two elements each; their `places` are motions (4, 4) of the world
    """
    order = _Order(
        _measure_differences(column, progress),
        tuple(range(len(column))),
        tuple(vertebra.series for vertebra in column),
        tuple(not own.shape.is_ring and own.shape.canal_m is not None for own in column),
    )
    found: list[_Exchange] = []
    done = set(apart_from)
    while clear := _list_clear(order, done):
        best = max(clear, key=lambda exchange: exchange.gained_s)
        found.append(best)
        done |= {best.one, best.other}
        order = order.exchange(best.one, best.other)
    return tuple(_tell(column, exchange) for exchange in sorted(found, key=lambda own: own.one))


def _measure_differences(column: Sequence[Vertebra], progress: Progress) -> Array:
    clouds = []
    for own in column:
        sizes = own.element.size * own.other_form[0], own.element.size * own.form[0]
        clouds.append(tuple((points, cKDTree(points)) for points in sizes))
    differs = np.full((len(column), len(column)), np.nan)
    for i, own in enumerate(column):
        progress(f"holding {own.element.name} against its series", i / len(column))
        for j in range(i + 1, min(i + FARTHEST + REACH + 1, len(column))):
            size = np.sqrt(own.element.size * column[j].element.size)
            differs[i, j] = differs[j, i] = measure_difference(*clouds[i][0], *clouds[j][1]) / size
    return differs


def _list_clear(order: _Order, done: Collection[int]) -> list[_Exchange]:
    """Exchanges that are clearly better than the order as it stands, of places that are not done with."""
    found = []
    for i, series in enumerate(order.series):
        for j in range(i + 1, min(i + FARTHEST + 1, len(order.series))):
            if not {i, j} & set(done) and order.holds(i, series) and order.holds(j, series):
                gains = _list_gains(order, i, j)
                if gains is None or gains[0] < LEAST_S or not gains[1]:
                    continue
                losses = _list_losses(order, i, j)
                ordered = len(losses) >= FEWEST and np.mean(np.array(losses) > 0) >= ORDERED
                if ordered and gains[0] >= SHARE * np.median(losses):
                    found.append(_Exchange(i, j, gains[0], float(np.median(losses))))
    return found


def _list_gains(order: _Order, i: int, j: int, without: Collection[int] = ()) -> tuple[float, bool] | None:
    """How much nearer vertebrae near two places are to their like when the two are exchanged, and whether all are."""
    total = weight = 0.0
    agree = True
    one, other = order.place[i], order.place[j]
    for m in range(i - REACH, j + REACH + 1):
        if m in (i, j) or m in without or not order.holds(m, order.series[i]):
            continue
        near, far = (1 / abs(m - k) if abs(m - k) <= REACH else 0.0 for k in (i, j))
        if near != far:
            gain = (near - far) * float(order.differs_s[one, order.place[m]] - order.differs_s[other, order.place[m]])
            total, weight, agree = total + gain, weight + abs(near - far), agree and gain > 0
    return (total / weight, agree) if weight else None


def _list_losses(order: _Order, i: int, j: int) -> list[float]:
    """How much farther it takes vertebrae from their like to exchange others, as far apart and nearby."""
    series, losses = order.series[i], []
    for k in range(i - AROUND, i + AROUND + 1):
        pair = {k, k + j - i}
        if pair & {i, j} or not all(order.holds(m, series) for m in pair):
            continue
        gains = _list_gains(order, k, k + j - i, without=(i, j))
        if gains is not None:
            losses.append(-gains[0])
    return losses


def _tell(column: Sequence[Vertebra], exchange: _Exchange) -> Verdict:
    names = tuple(column[k].element.name for k in (exchange.one, exchange.other))
    what = (
        f"{names[0]} and {names[1]}: exchanged, the vertebrae beside them lie nearer to their like by "
        f"{exchange.gained_s:.3f} s on the mean; others there, exchanged, lie farther by {exchange.lost_s:.3f} s"
    )
    figures = (("nearer to their like by [s]", exchange.gained_s), ("others there farther by [s]", exchange.lost_s))
    ratings = (Rating("exchanged", exchange.gained_s, figures), Rating("as placed", 0.0, ()))
    return Verdict("exchanged", names, "wrong", ratings, _seat_both(column, exchange.one, exchange.other), what)


def _seat_both(column: Sequence[Vertebra], i: int, j: int) -> dict[str, Array]:
    """By name, the motion (4, 4) of the world that takes each into the other's place, seated there."""
    changed, motions = list(column), {}
    for there, own in ((j, column[i]), (i, column[j])):
        motions[there] = column[there].shape.X_WV @ invert(own.shape.X_WV)
        changed[there] = _stand(column[there], own, motions[there])
    for there, own in ((j, column[i]), (i, column[j])):
        place = changed[there]
        clouds = [(other.cloud, other.element.size) for other in list_neighbours(changed, there).values()]
        seated = seat(own.cloud, own.element.size, motions[there], place.middle, clouds, place.axes)
        motions[there] = seated.X
        changed[there] = _stand(column[there], own, seated.X)
    return {column[i].element.name: motions[j], column[j].element.name: motions[i]}


def _stand(place: Vertebra, own: Vertebra, X: Array) -> Vertebra:
    """A vertebra moved by X (4, 4) into the place of another."""
    moved = move_rigidly(own.element, X)
    shape = replace(own.shape, X_WV=X @ own.shape.X_WV)
    return Vertebra(moved, place.series, place.axes, shape, move_cloud(own.cloud, X))
