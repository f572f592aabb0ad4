"""What acts on a tree of bodies at rest, and the wrenches at its cuts that follow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..site.site import GRAVITY
from ..spatial.transforms import Array
from .wrenches import make_wrenches


@dataclass(frozen=True, eq=False)
class PointForces:
    """Forces on bodies from outside: weights, reactions, actions. World of the pose.

    forces_N, points_m : (a, 3)
    body : (a,) index of the body that each acts on
    """

    forces_N: Array
    points_m: Array
    body: np.ndarray


def make_weights(mass_kg: Array, centres_m: Array) -> PointForces:
    """The weights of bodies of masses (n,) at their centres (n, 3)."""
    forces = np.zeros_like(centres_m)
    forces[:, 2] = -GRAVITY * mass_kg
    return PointForces(forces, centres_m, np.arange(len(centres_m)))


def sum_on_bodies(count: int, forces: PointForces, about_m: ArrayLike) -> Array:
    """(count, 6) the wrench on every body, about one point (3,)."""
    wrenches = make_wrenches(forces.forces_N, forces.points_m, about_m)
    if len(forces.body) == count and (forces.body == np.arange(count)).all():
        return wrenches
    sums = np.zeros((count, 6))
    np.add.at(sums, forces.body, wrenches)
    return sums
