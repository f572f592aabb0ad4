"""The vertebrae of a column, each with its own shape and the column's directions where it stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from scipy.spatial import cKDTree

from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, apply, invert
from .column import ColumnAxes, column_axes
from .column_seating import Cloud, thin_out
from .motions import move_rigidly
from .partner import Partner
from .vertebra_shape import VertebraShape, find_vertebra_shape

_NEXT_S = 0.6
"""Centra that stand farther apart than this along the column do not meet: one between them is missing (share of s)."""


@dataclass(frozen=True, eq=False)
class Vertebra:
    """An element of the column, standing in the world.

    axes : of the column where it stands, by its neighbours alone
    """

    element: Partner
    series: str
    axes: ColumnAxes
    shape: VertebraShape
    cloud: Cloud

    @property
    def middle(self) -> Array:
        """(3,) of its centrum."""
        middle: Array = self.shape.X_WV[:3, 3]
        return middle

    @property
    def head_end(self) -> Array:
        """(3,) where its centrum ends towards the head."""
        return self.middle + self.shape.X_WV[:3, 0] * self.shape.length_m / 2

    @property
    def tail_end(self) -> Array:
        """(3,) where its centrum ends towards the tail."""
        return self.middle - self.shape.X_WV[:3, 0] * self.shape.length_m / 2

    @cached_property
    def form(self) -> tuple[Array, cKDTree]:
        """Points (n, 3) about the middle of its centrum, along its axes, in its own size; and their tree."""
        return self._normalise(self.cloud.points)

    @cached_property
    def other_form(self) -> tuple[Array, cKDTree]:
        """The same of other points, so that copies of one mesh are not nearer to each other than their points are."""
        return self._normalise(thin_out(self.element, 1).points)

    def _normalise(self, points_W: Array) -> tuple[Array, cKDTree]:
        points: Array = apply(invert(self.shape.X_WV), points_W) / self.element.size
        return points, cKDTree(points)


def prepare_column(elements: Sequence[Partner], series: Sequence[str]) -> list[Vertebra]:
    """Elements from the head to the tail, and the series of each, as vertebrae.

    Raises
    ------
    SkeletonError : fewer than two elements; two have the same centre, or the column runs across the animal
    """
    if len(elements) < 2:
        raise SkeletonError("column", "it has fewer than two vertebrae", "name their series in the table")
    column: list[Vertebra] = []
    axes = None
    for i, element in enumerate(elements):
        axes = column_axes(elements[max(i - 1, 0)].centre, elements[min(i + 1, len(elements) - 1)].centre, axes)
        column.append(Vertebra(element, series[i], axes, find_vertebra_shape(element, axes), thin_out(element)))
    return column


def move_vertebra(column: Sequence[Vertebra], i: int, X: Array) -> list[Vertebra]:
    """The column with one of them moved by X (4, 4)."""
    moved = move_rigidly(column[i].element, X)
    changed = list(column)
    changed[i] = replace(
        column[i], element=moved, shape=find_vertebra_shape(moved, column[i].axes), cloud=thin_out(moved)
    )
    return changed


def list_neighbours(column: Sequence[Vertebra], i: int) -> dict[int, Vertebra]:
    """Those before and behind one of them that stand next to it, by number."""
    own, found = column[i], {}
    for k in (i - 1, i + 1):
        if 0 <= k < len(column):
            other = column[k]
            reach = (own.shape.length_m + other.shape.length_m) / 2 + _NEXT_S * own.element.size
            if abs(float((own.middle - other.middle) @ own.axes.head)) <= reach:
                found[k] = other
    return found


def find_ends(column: Sequence[Vertebra], i: int) -> tuple[Array, Array]:
    """Where the centrum of one of them belongs to begin and end, (3,) each: at its neighbours'.

    Beside one neighbour alone it is as long as it is; with none it stays where it is.
    """
    own, near = column[i], list_neighbours(column, i)
    before, behind = near.get(i - 1), near.get(i + 1)
    if before is not None and behind is not None:
        return before.tail_end, behind.head_end
    if before is not None:
        return before.tail_end, before.tail_end - before.shape.X_WV[:3, 0] * own.shape.length_m
    if behind is not None:
        return behind.head_end + behind.shape.X_WV[:3, 0] * own.shape.length_m, behind.head_end
    return own.head_end, own.tail_end
