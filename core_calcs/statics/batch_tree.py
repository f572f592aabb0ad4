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
    mass_kg : (k,) of each branch
    moments_kg_m : (k,) first moment about its joint of a body, with the mass of each branch on it at that one's joint
    axes : (k, 4) unit quaternions, w first, of the bodies' own axes: their z is the direction of these moments
    """

    parents: np.ndarray
    joints_m: Array
    mass_kg: Array
    moments_kg_m: Array
    axes: Array


@dataclass(frozen=True, eq=False)
class TurnedTree:
    """Poses of a tree.

    attitudes : (k, 2, b) complex, of the bodies' own axes
    first_kg_m : (k, b) complex, x - i y of the first moment of each branch about its joint, world
    height_kg_m : (b,) z of that of the root
    """

    attitudes: np.ndarray
    first_kg_m: np.ndarray
    height_kg_m: Array


def shape_batch_tree(parents: np.ndarray, joints_m: Array, mass_kg: Array, first_kg_m: Array) -> BatchTree:
    """The tree of bodies with own masses (k,) and first moments (k, 3) about their joints (k, 3); world, neutral."""
    mass, first = mass_kg.copy(), first_kg_m.copy()
    for j in range(len(parents) - 1, 0, -1):
        parent = parents[j]
        mass[parent] += mass[j]
        first[parent] += mass[j] * (joints_m[j] - joints_m[parent])
    return BatchTree(parents, joints_m, mass, np.linalg.norm(first, axis=1), _find_axes(first))


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
    """Fill complex matrices U (2, 2, b) of unit quaternions (4, b), w first."""
    w, x, y, z = np.asarray(quaternions, float)
    (a, b), (c, d) = turns
    a.real, a.imag, d.real, d.imag = w, -z, w, z
    b.real, b.imag, c.real, c.imag = -y, -x, y, -x


def make_buffers(bodies: int, poses: int) -> TurnedTree:
    """Room for a chunk of poses, to be used again and again."""
    room = (np.empty((bodies, 2, poses), complex), np.empty((bodies, poses), complex), np.empty(poses))
    return TurnedTree(*room)


def turn_tree(tree: BatchTree, turns: Iterable[np.ndarray], room: TurnedTree) -> None:
    """Fill a chunk: `turns` (2, 2, b) of every body's own axes against its parent's, of the root's against the world.

    They may come one after the other in the same array.
    """
    parents, sizes = tree.parents.tolist(), tree.moments_kg_m.tolist()
    attitudes, firsts = room.attitudes, room.first_kg_m
    step, scaled = np.empty_like(attitudes[0]), np.empty_like(firsts[0])
    heights = np.zeros(2 * len(room.height_kg_m))
    square = np.empty_like(heights)
    for j, turn in enumerate(turns):
        own = attitudes[j]
        if j:
            above = attitudes[parents[j]]
            np.multiply(above[0], turn[0], own)
            np.multiply(above[1], turn[1], step)
            np.add(own, step, own)
        else:
            own[:] = turn[0]
        # Real factors on the plain array: a product with a complex one takes twice as long.
        np.multiply(own[0].view(float), -2 * sizes[j], scaled.view(float))
        np.multiply(scaled, own[1], firsts[j])
        np.multiply(scaled.view(float), own[0].view(float), square)
        np.add(heights, square, heights)
    # |a|² - |b|² is 2 |a|² - 1.
    np.subtract(-sum(sizes), heights[::2] + heights[1::2], room.height_kg_m)
    for j in range(len(parents) - 1, 0, -1):
        above = firsts[parents[j]]
        np.add(above, firsts[j], above)


def turn_vectors(attitude: np.ndarray, vectors: ArrayLike) -> tuple[np.ndarray, Array]:
    """x - i y (n, b) and z (n, b) of vectors (n, 3) in a body's own axes, turned by its attitudes (2, b)."""
    x, y, z = np.asarray(vectors, float).T[:, :, None]
    level, (a, b) = x - 1j * y, attitude
    both = np.conjugate(b)
    both *= a
    flat = level * (a * a) - level.conj() * (b * b) - (2 * z) * (a * b)
    upright = z * (2 * (a.real**2 + a.imag**2) - 1) + (2 * x) * both.real + (2 * y) * both.imag
    return flat, upright


def find_own_vectors(axes: Array, vectors: ArrayLike) -> Array:
    """Vectors (n, 3), world, neutral, in own axes (n, 4)."""
    R = (multiply_left(axes) @ np.swapaxes(multiply_right(axes), -1, -2))[..., 1:, 1:]
    own: Array = (np.asarray(vectors, float)[..., None, :] @ R)[..., 0, :]
    return own
