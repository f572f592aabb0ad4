"""The balance of one pose under what acts on it: overturning and sliding with partial factors, feet, anchors, ballast.

Preliminary figures: a licensed engineer and the local codes decide.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..site.actions import Factors
from ..site.site import GRAVITY
from ..spatial.transforms import Array
from ..statics.equ import (
    Action,
    Overturning,
    combine_overturning,
    divide_moments,
    face_axes,
    find_allowed,
    split_weights,
)
from ..statics.ground_reactions import press_contacts, solve_reactions
from ..statics.holding_down import find_anchor_moments, find_anchor_tensions, find_ballast
from ..statics.rose import measure_push, measure_rose
from ..statics.sliding import Push, combine_pushes, find_needed_friction, measure_lever
from ..statics.stability import Axes, find_axes
from ..statics.wrenches import make_wrenches
from .balance_figures import SELF_WEIGHT, Balance, BalanceCase, FootReaction, Stance

TIE = 1e-9
"""Utilisations this close, as a share, are the same: of mirrored edges the first is named, whatever the rounding."""


def study_balance(
    stance: Stance,
    actions: Sequence[Action],
    factors: Factors,
    push_height_m: float | None = None,
    with_feet: bool = True,
) -> Balance:
    """Balance of a pose that stands on three corners or more.

    with_feet : whether the reactions of the feet are looked for in every case, which takes as long as all the rest
    push_height_m : world height of the horizontal force in the rose; None: of the centre of mass
    """
    axes = find_axes(stance.contacts.on_ground_m[stance.corners])
    actions = [face_axes(action, axes) for action in actions]
    weight = float(stance.weights_N.sum())
    sides = split_weights(axes, stance.weights_N, stance.centres_m)
    tipping = combine_overturning(axes, sides, actions, factors)
    friction = _find_friction(stance)
    pushes = combine_pushes(weight, actions, factors)
    feet, middles = _find_middles(stance)
    anchors = _find_anchor_moments(stance, axes, factors, feet, middles)
    turns = _find_turns(stance, actions, factors, pushes)
    cases = tuple(
        _study_case(stance, actions, factors, over, push, turn, friction, anchors, with_feet)
        for over, push, turn in zip(tipping, pushes, turns, strict=True)
    )
    missing = np.max([over.overturning_Nm - over.holding_Nm for over in tipping], axis=0)
    height = float(stance.centre_m[2]) if push_height_m is None else push_height_m
    rose = measure_rose(axes, stance.centre_m, weight, height)
    pushes_N = None if rose is None else measure_push(axes, stance.centre_m, height, find_allowed(sides, factors))
    return Balance(
        cases=cases,
        worst=_find_worst([case.overturning for case in cases]),
        slipping=_find_worst([case.friction for case in cases]),
        anchored_feet=tuple(stance.feet[f] for f in feet if stance.supports.anchored[f]),
        anchors=_list_anchors(stance, axes, missing, factors, feet, middles),
        ballast=_list_ballast(stance, axes, missing, factors, feet, middles),
        sliding_ballast_kg=_find_sliding_ballast(cases, factors),
        rose=rose,
        allowed_N=None if pushes_N is None else np.maximum(pushes_N, 0),
    )


def _find_worst(values: Sequence[float]) -> int:
    most = max(values)
    return next(i for i, value in enumerate(values) if value >= most - TIE * abs(most) or value == most)


def _study_case(
    stance: Stance,
    actions: Sequence[Action],
    factors: Factors,
    over: Overturning,
    push: Push,
    turned: tuple[float | None, float],
    friction: float | None,
    anchors: Array | None,
    with_feet: bool,
) -> BalanceCase:
    used = over.utilisation
    edge = _find_edge(stance, used)
    leading = None if over.leading is None else actions[over.leading]
    way = None if over.way is None else int(over.way[edge])
    beside = (
        {} if over.accompanying is None else {a: int(w) for a, w in enumerate(over.accompanying[:, edge]) if w >= 0}
    )
    acting = dict(beside) if over.leading is None or way is None else {over.leading: way, **beside}
    turn, lever = turned
    needed = find_needed_friction(push.push_N, turn or 0.0, push.press_N, lever, factors)
    held = None if anchors is None else divide_moments(over.overturning_Nm, over.holding_Nm + anchors)
    return BalanceCase(
        name=SELF_WEIGHT if leading is None else leading.name,
        kind=SELF_WEIGHT if leading is None else leading.kind,
        edge=edge,
        place=_name_edge(stance, edge),
        force_N=None if leading is None or way is None else leading.forces_N[way],
        accompanying=tuple(actions[a].name for a in beside),
        holding_Nm=float(over.holding_Nm[edge]),
        overturning_Nm=float(over.overturning_Nm[edge]),
        overturning=float(used[edge]),
        by_edge=used,
        anchored=None if held is None else float(held.max()),
        push_N=push.push_N,
        press_N=push.press_N,
        turn_Nm=turn,
        friction=needed,
        sliding=None if friction is None else _divide(needed, friction),
        reactions=_list_reactions(stance, _combine(actions, factors, over.leading, acting)) if with_feet else (),
    )


def _divide(needed: float, friction: float) -> float:
    return 0.0 if needed == 0 else needed / friction if friction > 0 else float("inf")


def _find_edge(stance: Stance, used: Array) -> int:
    """The edge with the greatest utilisation, of equals that with the first contacts."""
    corners, most = stance.corners, float(used.max())
    tied = [i for i in range(len(used)) if used[i] == most or used[i] >= most - TIE * abs(most)]
    return min(tied, key=lambda i: sorted((corners[i], corners[(i + 1) % len(corners)])))


def _name_edge(stance: Stance, edge: int) -> str:
    ends = (stance.corners[edge], stance.corners[(edge + 1) % len(stance.corners)])
    return " – ".join(dict.fromkeys(stance.feet[stance.contacts.foot[i]] for i in ends))


def _find_friction(stance: Stance) -> float | None:
    """The least coefficient under the standing feet; None where it is not known of every one of them."""
    least = float(stance.supports.friction[np.unique(stance.contacts.foot)].min())
    return None if np.isnan(least) else least


def _combine(
    actions: Sequence[Action], factors: Factors, leading: int | None, ways: dict[int, int]
) -> list[tuple[Array, Array]]:
    """Forces and points of the actions that act, characteristic, those that accompany at their share."""
    return [
        ((1.0 if a == leading else factors.accompanying) * actions[a].forces_N[way], actions[a].points_m[way])
        for a, way in ways.items()
    ]


def _sum_applied(stance: Stance, acting: Sequence[tuple[Array, Array]], weight_share: float = 1.0) -> Array:
    """(6,) of the weight and what acts with it, about the centre of mass."""
    applied = np.array([0, 0, -weight_share * stance.weights_N.sum(), 0, 0, 0], float)
    for force, point in acting:
        applied = applied + make_wrenches(force, point, stance.centre_m)
    return applied


def _list_reactions(stance: Stance, acting: Sequence[tuple[Array, Array]]) -> tuple[FootReaction, ...] | None:
    found = solve_reactions(stance.contacts, stance.supports, _sum_applied(stance, acting), stance.centre_m)
    if found is None:
        return None
    feet = []
    for f in np.unique(stance.contacts.foot).tolist():
        own = stance.contacts.foot == f
        force = np.array([*found.horizontal_N[own].sum(axis=0), found.forces_N[own].sum()])
        limits = None
        if found.determinate:
            shares = (found.vertices_N * own[found.corners]).sum(axis=1)
            limits = (float(shares.min()), float(shares.max()))
        feet.append(FootReaction(stance.feet[f], force, limits))
    return tuple(feet)


def _find_turns(
    stance: Stance, actions: Sequence[Action], factors: Factors, pushes: Sequence[Push]
) -> list[tuple[float | None, float]]:
    """Moment of each push about the vertical through the centre of pressure, and the lever that friction has there."""
    acting = [
        [
            (share * actions[a].forces_N[way], actions[a].points_m[way])
            for a, (way, share) in enumerate(zip(push.ways.tolist(), push.shares.tolist(), strict=True))
            if way >= 0
        ]
        for push in pushes
    ]
    own = [i for i, acts in enumerate(acting) if acts]
    turns: list[tuple[float | None, float]] = [(0.0, 0.0)] * len(pushes)
    if own:
        applied = np.stack([_sum_applied(stance, acting[i], factors.permanent_for) for i in own])
        presses = press_contacts(stance.contacts, stance.supports, applied, stance.centre_m)
        for i, pressed in zip(own, presses, strict=True):
            turns[i] = _find_turn(stance, pushes[i], acting[i], pressed)
    return turns


def _find_turn(
    stance: Stance, push: Push, acting: Sequence[tuple[Array, Array]], presses: Array | None
) -> tuple[float | None, float]:
    if presses is None or not (presses > 0).any():
        return None, 0.0
    middle, lever = measure_lever(stance.contacts.points_m[:, :2], np.maximum(presses, 0))
    about = np.array([*middle, 0.0])
    turn = sum(float(make_wrenches(force, point, about)[5]) for force, point in acting)
    # What is left of a push through the centre is rounding.
    return (turn if abs(turn) > 1e-12 * lever * float(np.hypot(*push.push_N)) else 0.0), lever


def _find_middles(stance: Stance) -> tuple[list[int], Array]:
    """The standing feet, and the middle (f, 3) of each one's contacts on the ground."""
    points, foot = stance.contacts.on_ground_m, stance.contacts.foot
    feet = np.unique(foot).tolist()
    return feet, np.array([points[foot == f].mean(axis=0) for f in feet])


def _find_anchor_moments(stance: Stance, axes: Axes, factors: Factors, feet: list[int], middles: Array) -> Array | None:
    """What the anchors that are there add about every axis; None without any, or where one's strength is not known."""
    held = stance.supports.anchored[feet]
    strength = np.where(held, stance.supports.anchor_N[feet], 0.0)
    if not held.any() or np.isnan(strength).any():
        return None
    return find_anchor_moments(axes, middles, strength / factors.resistance)


def _list_anchors(
    stance: Stance, axes: Axes, missing: Array, factors: Factors, feet: list[int], middles: Array
) -> tuple[tuple[str, float], ...]:
    tensions = factors.resistance * find_anchor_tensions(axes, missing, middles)
    return tuple((stance.feet[f], float(t)) for f, t in zip(feet, tensions, strict=True) if t > 0)


def _list_ballast(
    stance: Stance, axes: Axes, missing: Array, factors: Factors, feet: list[int], middles: Array
) -> tuple[tuple[str, float | None], ...]:
    names = ("centre of mass", *(stance.feet[f] for f in feet))
    masses = find_ballast(axes, missing, np.concatenate([stance.centre_m[None], middles]), GRAVITY, factors)
    return tuple(zip(names, masses, strict=True))


def _find_sliding_ballast(cases: Sequence[BalanceCase], factors: Factors) -> float | None:
    lacking = 0.0
    for case in cases:
        if case.sliding is None or not np.isfinite(case.sliding):
            return None
        lacking = max(lacking, (case.sliding - 1) * case.press_N)
    return lacking / (factors.permanent_for * GRAVITY)
