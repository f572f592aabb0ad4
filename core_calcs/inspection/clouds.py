"""Distances between elements by the points spread over them."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ..spatial.transforms import Array

FEW = 5
"""Every how manieth point is asked for; the nearest is looked for among all."""


def measure_gap(one: cKDTree, other: cKDTree) -> float:
    """Least distance between two clouds [m]: not less than the true one, and too great by less than their spacing."""
    small, large = (one, other) if one.n <= other.n else (other, one)
    return float(np.min(large.query(small.data)[0]))


def measure_difference(
    one: Array, one_tree: cKDTree, other: Array, other_tree: cKDTree, turn: Array | float = 1.0
) -> float:
    """Mean distance [m] from points of each cloud to the nearest of the other, the clouds' own spacing included.

    turn : (3,) signs of the axes, by which one of them is turned before
    """
    there = np.mean(other_tree.query(one[::FEW] * turn)[0])
    back = np.mean(one_tree.query(other[::FEW] * turn)[0])
    return float(there + back) / 2
