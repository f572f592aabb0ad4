"""Many poses of one tree at once: attitudes, places, first moments of mass, in arrays that run over the poses.

An attitude is a unit quaternion (w, x, y, z) as two complex numbers, a = w - i z and b = -y - i x: the first row of the
matrix U of SU(2) that turns H = v·σ into U H U†. The product of two is four complex products; a constant vector turns
by the products a², b² and ab. (H. Goldstein, Classical Mechanics, ch. 4.5, Cayley-Klein parameters: from memory.)
Attitudes turn from the neutral articulation, in world axes: constant vectors are taken there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..spatial.transforms import Array


@dataclass(frozen=True, eq=False)
class BatchTree:
    """What no pose changes, of bodies that each turn about a joint; parents come before their children. World, neutral.

    parents : (k,) -1 for the root
    joints_m : (k, 3) centre of the joint above each; of the root any point
    mass_kg : (k,) of each branch
    moments_kg_m : (k, 3) first moment about its joint of a body, with the mass of each branch on it at that one's joint
    """

    parents: np.ndarray
    joints_m: Array
    mass_kg: Array
    moments_kg_m: Array


@dataclass(frozen=True, eq=False)
class TurnedTree:
    """Poses of a tree.

    attitudes : (k, 2, b) complex
    first_kg_m : (k, b) complex, x - i y of the first moment of each branch about its joint, world
    height_kg_m : (b,) z of that of the root
    """

    attitudes: np.ndarray
    first_kg_m: np.ndarray
    height_kg_m: Array


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


def turn_tree(tree: BatchTree, turns: np.ndarray, room: TurnedTree) -> None:
    """Fill a chunk: `turns` (k, 2, 2, b) of every body against its parent, of the root against the world."""
    parents = tree.parents.tolist()
    attitudes, step = room.attitudes, np.empty_like(room.attitudes[0])
    attitudes[0] = turns[0, 0]
    for j in range(1, len(parents)):
        above, own = attitudes[parents[j]], attitudes[j]
        np.multiply(above[0], turns[j, 0], own)
        np.multiply(above[1], turns[j, 1], step)
        np.add(own, step, own)
    _sum_moments(tree, parents, room)


def _sum_moments(tree: BatchTree, parents: list[int], room: TurnedTree) -> None:
    """First moments from the tips to the root."""
    level, upright = _list_factors(tree.moments_kg_m)
    children: list[list[int]] = [[] for _ in parents]
    for j, parent in enumerate(parents[1:], start=1):
        children[parent].append(j)
    products = np.empty((4, room.first_kg_m.shape[1]), complex)
    height, part = room.height_kg_m, np.empty_like(room.height_kg_m)
    height[:] = 0
    for j in range(len(parents) - 1, -1, -1):
        own, first = room.attitudes[j], room.first_kg_m[j]
        np.multiply(own, own, products[:2])
        np.multiply(own[0], own[1], products[2])
        np.dot(level[j], products[:3], first)
        for child in children[j]:
            np.add(first, room.first_kg_m[child], first)
        height += _find_heights(own, upright[j], products[3], part)


def _list_factors(vectors: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    """Factors (n, 3) of a², b², ab in x - i y of turned vectors (n, 3); and what goes into z: z, x - i y."""
    x, y, z = np.asarray(vectors, float).T
    flat = x - 1j * y
    return np.stack([flat, -flat.conj(), -2 * z + 0j], axis=1), np.stack([z + 0j, flat], axis=1)


def _find_heights(attitude: np.ndarray, upright: np.ndarray, product: np.ndarray, part: Array) -> Array:
    """z (b,) of a turned vector: z (|a|² - |b|²) + 2 Re((x - i y) a b*)."""
    a, b = attitude
    np.conjugate(b, product)
    np.multiply(product, a, product)
    # Twice the product, with |a|² + |b|² = 1.
    np.multiply(a.real, a.real, part)
    part += a.imag * a.imag
    part -= 0.5
    part *= 2 * upright[0].real
    part += (2 * upright[1].real) * product.real
    part -= (2 * upright[1].imag) * product.imag
    return part


def turn_vectors(attitude: np.ndarray, vectors: ArrayLike) -> Array:
    """(n, 3, b) constant vectors (n, 3) turned by attitudes (2, b)."""
    level, upright = _list_factors(vectors)
    a, b = attitude
    flat = level @ np.stack([a * a, b * b, a * b])
    turned = np.empty((len(level), 3, len(a)))
    turned[:, 0], turned[:, 1] = flat.real, -flat.imag
    turned[:, 2] = upright[:, :1].real * (2 * np.abs(a) ** 2 - 1) + 2 * (upright[:, 1:] * (a * b.conj())).real
    return turned
