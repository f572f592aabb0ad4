"""Many poses of one tree at once: attitudes, places, first moments of mass, in arrays that run over the poses.

An attitude is a unit quaternion (w, x, y, z) as two complex numbers, a = w - i z and b = -y - i x: the first row of the
matrix U of SU(2) that turns H = v·σ into U H U†. The product of two is four complex products. Every body has axes of
its own whose z lies along its constant first moment h: turned, that is h (|a|² - |b|²) in z and -2 h a b in x - i y.
(H. Goldstein, Classical Mechanics, ch. 4.5, Cayley-Klein parameters: from memory.)
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..spatial.quaternions import multiply_left, multiply_right
from ..spatial.transforms import Array


@dataclass(frozen=True, eq=False)
class BatchTree:
    """What no pose changes, of bodies that each turn about a joint; parents come before their children. World, neutral.

    parents : (k,) -1 for the root
    joints_m : (k, 3) centre of the joint above each; of the root any point
    weight_N : (k,) of each branch
    moments_Nm : (k,) weight times the way to the centre from the joint of a body, with each branch on it as a weight at
        that one's joint
    axes : (k, 4) unit quaternions, w first, of the bodies' own axes: their z is the direction of these ways
    """

    parents: np.ndarray
    joints_m: Array
    weight_N: Array
    moments_Nm: Array
    axes: Array


@dataclass(frozen=True, eq=False)
class TurnedTree:
    """Poses of a tree.

    attitudes : (k, 2, b) complex, of the bodies' own axes
    moments_Nm : (k, b) complex, of the weight of each branch about its joint, about y and, times i, about x; world
    heights_m : (b,) of the centre of the whole over the root's joint
    """

    attitudes: np.ndarray
    moments_Nm: np.ndarray
    heights_m: Array


def shape_batch_tree(parents: np.ndarray, joints_m: Array, weights_N: Array, first_Nm: Array) -> BatchTree:
    """The tree of bodies with own weights (k,) and these times the ways (k, 3) to them from the joints (k, 3)."""
    weight, first = weights_N.copy(), first_Nm.copy()
    for j in range(len(parents) - 1, 0, -1):
        parent = parents[j]
        weight[parent] += weight[j]
        first[parent] += weight[j] * (joints_m[j] - joints_m[parent])
    return BatchTree(parents, joints_m, weight, np.linalg.norm(first, axis=1), _find_axes(first))


def _find_axes(directions: Array) -> Array:
    """(n, 4) unit quaternions of the shortest turns of z to directions (n, 3); of none where these are nothing."""
    x, y, z = directions.T
    level, size = np.hypot(x, y), np.linalg.norm(directions, axis=1)
    # Size and z together; where they nearly cancel, by the other form.
    both = np.where(z >= 0, size + z, level**2 / np.where(z >= 0, 1.0, size - z))
    axes = np.stack([both, -y, x, np.zeros(len(z))], axis=1)
    # Straight down: half a turn about any level axis.
    axes[level == 0] = (0, 1, 0, 0)
    axes[(level == 0) & (z >= 0)] = (1, 0, 0, 0)
    unit: Array = axes / np.linalg.norm(axes, axis=1)[:, None]
    return unit


def fill_turns(turns: np.ndarray, quaternions: ArrayLike) -> None:
    """Fill turns (2, b) as attitudes are written, of unit quaternions (4, b), w first."""
    w, x, y, z = np.asarray(quaternions, float)
    a, b = turns
    a.real, a.imag, b.real, b.imag = w, -z, -y, -x


def turn_tree(tree: BatchTree, turns: Iterable[np.ndarray], attitudes: np.ndarray, moments: np.ndarray) -> TurnedTree:
    """The tree in the poses of `turns` (2, b) of every body's own axes against its parent's, of the root's against
    the world. They may come one after the other in the same array.

    attitudes, moments : filled, of the shapes that `TurnedTree` has
    """
    parents, sizes = tree.parents.tolist(), tree.moments_Nm.tolist()
    step, other, scaled = np.empty_like(attitudes[0]), np.empty_like(attitudes[0]), np.empty_like(attitudes[0, 0])
    heights, square = np.zeros(2 * len(scaled)), np.empty(2 * len(scaled))
    for j, turn in enumerate(turns):
        own = attitudes[j]
        if j:
            above = attitudes[parents[j]]
            # The rows of the turn's matrix are (a, b) and (-b*, a*).
            np.multiply(above[0], turn, own)
            np.conjugate(turn, other)
            np.multiply(above[1], other[::-1], step)
            np.subtract(own[0], step[0], own[0])
            np.add(own[1], step[1], own[1])
        else:
            own[:] = turn
        # Real factors on the plain array: a product with a complex one takes twice as long.
        np.multiply(own[0].view(float), -2 * sizes[j], scaled.view(float))
        np.multiply(scaled, own[1], moments[j])
        np.multiply(scaled.view(float), own[0].view(float), square)
        np.add(heights, square, heights)
    # |a|² - |b|² is 2 |a|² - 1.
    height = -(sum(sizes) + heights[::2] + heights[1::2])
    for j in range(len(parents) - 1, 0, -1):
        above = moments[parents[j]]
        np.add(above, moments[j], above)
    return TurnedTree(attitudes, moments, height / (tree.weight_N[0] or 1.0))


def turn_vectors(attitude: np.ndarray, vectors: np.ndarray) -> tuple[np.ndarray, Array]:
    """x - i y (n, b) and z (n, b) of vectors H^T (n, 2, 2) in a body's own axes, turned by its attitudes (2, b)."""
    a, b = attitude
    # The first row of U H, then what that makes of it with U†.
    half = vectors @ attitude
    flat = half[:, 1] * a
    flat -= half[:, 0] * b
    parts = half.view(float)
    parts *= attitude.view(float)
    both = parts[:, 0] + parts[:, 1]
    return flat, both[:, ::2] + both[:, 1::2]


def find_own_vectors(axes: Array, vectors: ArrayLike) -> np.ndarray:
    """Vectors (n, 3), world, neutral, as H^T (n, 2, 2) = (z, x + i y; x - i y, -z) in own axes (n, 4)."""
    R = (multiply_left(axes) @ np.swapaxes(multiply_right(axes), -1, -2))[:, 1:, 1:]
    x, y, z = (np.asarray(vectors, float)[:, None, :] @ R)[:, 0].T
    return np.moveaxis(np.array([[z, x + 1j * y], [x - 1j * y, -z]]), -1, 0)
