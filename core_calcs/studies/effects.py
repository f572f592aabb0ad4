"""What self-weight and every action do to the joints of one pose, each by itself: subtree sums, made once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..actions.variable import VariableAction
from ..spatial.transforms import Array
from ..statics.contacts import Contacts
from ..statics.cuts import make_weights, sum_on_bodies
from ..statics.ground_reactions import solve_contacts
from ..statics.linear_reactions import add_reactions
from ..statics.supports import Supports, share_stiffness
from ..statics.wrenches import make_wrenches, move_wrenches, sum_distal
from .acting import as_point_forces
from .loads import Carried, list_beyond, place_joints
from .prepared import Prepared


@dataclass(frozen=True, eq=False)
class Effects:
    """Wrenches at the cuts above every body (n), distal on proximal part, world axes.

    points_m : (n, 3) the joints' centres
    known, between : (n,) whether the cut's wrench under self-weight is known; whether feet stand on both sides of it
    permanent : (n, 6) of the self-weight about the joints
    variable : of every action (w, n, 6) about the joints in each of its ways. Of cuts between feet what the feet add is
        taken as linear, which they are not: it only finds which combination matters (`solve_combination`)
    weight, applied : (n, 6), each (w, n, 6), the same of weights and actions alone, without the ground, about `about_m`
    beyond : (n, m) which contacts lie beyond a cut
    """

    actions: tuple[VariableAction, ...]
    points_m: Array
    known: np.ndarray
    between: np.ndarray
    permanent: Array
    variable: tuple[Array, ...]
    weight: Array
    applied: tuple[Array, ...]
    about_m: Array
    contacts: Contacts
    supports: Supports
    beyond: np.ndarray


def find_effects(
    prepared: Prepared,
    motions: Array,
    centres_m: Array,
    carried: Carried,
    supports: Supports,
    actions: Sequence[VariableAction],
) -> Effects:
    """Effects in a pose whose self-weight was solved before.

    motions, centres_m : (n, 4, 4), (n, 3) of the elements, and of the masses that they carry
    """
    branches, about, contacts = prepared.branches, carried.about_m, carried.contacts
    points = place_joints(prepared, motions)[:, :3, 3]
    beyond = list_beyond(branches, contacts.body)
    ahead = np.logical_and.reduce(beyond, axis=1) & (len(contacts.body) > 0)
    between: np.ndarray = np.logical_or.reduce(carried.between, axis=1)
    count = len(centres_m)
    weights = sum_on_bodies(count, make_weights(prepared.bodies.mass_kg, centres_m), about)
    applied = tuple(_sum_action(branches.parents, action, about) for action in actions)
    stiffness = share_stiffness(supports, contacts.foot)
    presses = np.ones(len(contacts.foot)) if carried.reactions is None else carried.reactions.forces_N
    variable = []
    for own in applied:
        forces = add_reactions(contacts, stiffness, presses, own[:, 0], about)
        ground = make_wrenches(forces, contacts.on_ground_m, about)
        # Where every contact lies beyond, all that acts on the other side goes through the cut, whatever the feet do.
        felt = np.where(ahead[:, None], own - own[:, :1], own)
        felt[:, between] += np.einsum("cm,wmi->wci", beyond[between].astype(float), ground)
        variable.append(move_wrenches(felt, about, points))
    return Effects(
        actions=tuple(actions),
        points_m=points,
        known=carried.known,
        between=between,
        permanent=move_wrenches(carried.distal, about, points),
        variable=tuple(variable),
        weight=sum_distal(branches.parents, weights),
        applied=applied,
        about_m=about,
        contacts=contacts,
        supports=supports,
        beyond=beyond,
    )


def _sum_action(parents: np.ndarray, action: VariableAction, about_m: Array) -> Array:
    """(w, n, 6) what an action does at every cut, in each of its ways."""
    count = len(parents)
    on_bodies = [sum_on_bodies(count, as_point_forces(action, way), about_m) for way in range(len(action.directions))]
    # Bodies first, so that sums run over all ways at once.
    sums: Array = np.swapaxes(sum_distal(parents, np.stack(on_bodies, axis=1)), 0, 1)
    return sums


def solve_combination(effects: Effects, permanent: float, factors: Array, ways: np.ndarray) -> Array | None:
    """(n, 6) wrenches about the joints with the self-weight times `permanent`, every action (a,) in one way times its
    factor, and the feet that carry it, which let go where they would pull; None where they keep no equilibrium.
    """
    sums = permanent * effects.weight
    for own, factor, way in zip(effects.applied, factors, ways, strict=True):
        if way >= 0:
            sums = sums + factor * own[way]
    found = solve_contacts(effects.contacts, effects.supports, sums[0], effects.about_m)
    if found is None:
        return None
    forces = np.column_stack([found[1], found[0]])
    ground = make_wrenches(forces, effects.contacts.on_ground_m, effects.about_m)
    return move_wrenches(sums + effects.beyond.astype(float) @ ground, effects.about_m, effects.points_m)
