"""What the ground does to the body at every contact, under whatever acts on it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..spatial.transforms import Array
from .batch_springs import solve_springs_batch
from .contacts import Contacts
from .horizontal_reactions import share_horizontally
from .reactions import find_reaction_vertices, solve_springs
from .supports import Supports, share_stiffness

ROUNDS = 40
"""After so many the pushes along ground that is not level are given up; two are enough on level ground."""


@dataclass(frozen=True, eq=False)
class Reactions:
    """What the ground does at the contacts.

    forces_N : (m,) upwards, by springs; negative where anchors pull
    horizontal_N : (m, 2) along the ground, shared as friction would (statics.horizontal_reactions); 0 under weights
    corners, vertices_N : (v, 3) the sets of pushing forces between which all others lie (statics.reactions); none where
        anchors pull: how they were tightened leaves that open
    """

    forces_N: Array
    horizontal_N: Array
    corners: np.ndarray
    vertices_N: Array

    @property
    def determinate(self) -> bool:
        """Whether the range of the forces on a rigid base is known."""
        return len(self.corners) > 0


def solve_reactions(contacts: Contacts, supports: Supports, applied: Array, about_m: Array) -> Reactions | None:
    """Reactions to a wrench (6,) about a point (3,), as `solve_contacts` has them, with their range.

    Returns
    -------
    None where nothing that the contacts can do keeps the equilibrium, or it presses on nothing.
    """
    found = solve_contacts(contacts, supports, applied, about_m)
    if found is None:
        return None
    forces, along = found
    if (forces < 0).any():
        return Reactions(forces, along, np.zeros((0, 3), int), np.zeros((0, 3)))
    down = -float(applied[2])
    centre = _find_pressure(contacts, applied, along, about_m)
    corners, vertices = find_reaction_vertices(contacts.points_m[:, :2] - about_m[:2], down, centre)
    held = supports.anchored[contacts.foot]
    # On the edge to the last digit either may come out as outside. Anchors may be needed for what springs do without.
    return Reactions(forces, along, corners, vertices) if len(corners) or held.any() else None


def solve_contacts(
    contacts: Contacts, supports: Supports, applied: Array, about_m: Array
) -> tuple[Array, Array] | None:
    """Upward forces (m,) and those along the ground (m, 2); the corners of every foot share its stiffness.

    The upward forces carry the wrench (6,) about a point (3,) at its centre of pressure. Where the contacts do not lie
    in one level, what pushes along the ground shifts that centre, and how they are pressed decides how they share the
    push: both in turn.

    Returns
    -------
    None where springs keep no equilibrium, or it presses on nothing.
    """
    down = -float(applied[2])
    if down <= 0 or not len(contacts.foot):
        return None
    plan = contacts.points_m[:, :2] - about_m[:2]
    stiffness = share_stiffness(supports, contacts.foot)
    held = supports.anchored[contacts.foot]
    along: Array = np.tile(-applied[:2] / len(plan), (len(plan), 1))
    for _ in range(ROUNDS):
        forces = solve_springs(plan, stiffness, down, _find_pressure(contacts, applied, along, about_m), held)
        if forces is None:
            return None
        shares = share_horizontally(plan, np.maximum(forces, 0), applied[:2], float(applied[5]))
        if shares is None:
            return None
        change, along = float(np.abs(shares - along).max()), shares
        # In one level it is of no account for the centre of pressure how they share what pushes.
        if change <= 1e-14 * down or not np.ptp(contacts.ground_m):
            return forces, along
    return None


def press_contacts(contacts: Contacts, supports: Supports, applied: Array, about_m: Array) -> list[Array | None]:
    """Upward forces (m,) under each of several wrenches (b, 6), as `solve_contacts` has them; None likewise.

    Many at once, where the ground is level and nothing pulls.
    """
    found: list[Array | None] = [None] * len(applied)
    rest = list(range(len(applied)))
    plan, down = contacts.points_m[:, :2] - about_m[:2], -applied[:, 2]
    if len(plan) and not supports.anchored[contacts.foot].any() and not np.ptp(contacts.ground_m):
        own = np.flatnonzero(down > 0)
        rise = float(contacts.ground_m[0] - about_m[2])
        push = applied[own]
        centres = np.stack([push[:, 4] - rise * push[:, 0], -(push[:, 3] + rise * push[:, 1])]) / down[own]
        stiffness = share_stiffness(supports, contacts.foot)[:, None]
        shape = (len(plan), len(own))
        points = np.broadcast_to(plan.T[:, :, None], (2, *shape))
        forces = solve_springs_batch(points, np.broadcast_to(stiffness, shape), 1.0, centres) * down[own]
        pressed = (forces > 0).sum(axis=0)
        for i in np.flatnonzero(pressed > 1).tolist():
            found[own[i]] = forces[:, i]
        # One contact alone holds no turn: whether there is any `solve_contacts` tells.
        rest = own[pressed == 1].tolist()
    for i in rest:
        solved = solve_contacts(contacts, supports, applied[i], about_m)
        found[i] = None if solved is None else solved[0]
    return found


def _find_pressure(contacts: Contacts, applied: Array, along: Array, about_m: Array) -> Array:
    """(2,) the centre of pressure from the point: moments of the pushes along the ground join those applied."""
    rise = contacts.ground_m - about_m[2]
    moments = (applied[4] + rise @ along[:, 0], -(applied[3] - rise @ along[:, 1]))
    return np.array(moments) / -float(applied[2])
