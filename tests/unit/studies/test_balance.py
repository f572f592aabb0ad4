"""The balance of a pose under what acts on it: a small case by hand, what is needed applied, invariance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core_calcs.site.actions import Factors, Footing
from core_calcs.site.site import GRAVITY
from core_calcs.statics.contacts import Contacts
from core_calcs.statics.equ import Action
from core_calcs.statics.polygon import find_outline
from core_calcs.statics.supports import list_supports
from core_calcs.studies.balance import study_balance
from core_calcs.studies.balance_checks import check_overturning, check_sliding
from core_calcs.studies.balance_figures import SELF_WEIGHT, Stance

FEET = ("left fore", "right fore", "left hind", "right hind")
PLACES = np.array([[1, 0.5, 0], [1, -0.5, 0], [-1, 0.5, 0], [-1, -0.5, 0]])
FACTORS = Factors()


def make_stance(points=PLACES, weights=((1000.0, (0, 0, 1.0)),), footings=(), friction=0.4):
    foot = np.arange(len(points))
    points = np.asarray(points, float)
    contacts = Contacts(points, foot, foot, points[:, 2])
    force = np.array([w for w, _ in weights], float)
    centres = np.array([c for _, c in weights], float)
    supports = list_supports(FEET, footings, friction)
    corners = find_outline(points[:, :2])
    return Stance(contacts, corners, FEET, supports, force, centres, force @ centres / force.sum())


def push(force, point, name="push", kind="push"):
    return Action(name, kind, np.atleast_2d(np.asarray(force, float)), np.atleast_2d(np.asarray(point, float)))


def make_random(rng, push_N=400.0):
    points = PLACES + rng.normal(size=(4, 3)) * [0.1, 0.1, 0.05]
    weights = [
        (w, c) for w, c in zip(rng.uniform(50, 400, 6), rng.normal((0, 0, 1.5), (0.5, 0.2, 0.3), (6, 3)), strict=True)
    ]
    azimuth = np.arange(12) * np.pi / 6
    wind = push_N * np.column_stack([np.cos(azimuth), np.sin(azimuth), np.zeros(12)])
    actions = [
        Action("wind", "wind", wind, np.tile([0.2, 0.1, 1.2], (12, 1))),
        push([0, 0, -700.0], [1.4, 0.2, 1.0], "visitor", "person"),
        push([rng.normal(), rng.normal(), 0], [0.5, 0.2, 2.0]),
    ]
    return make_stance(points, weights), actions


def test_a_push_by_hand():
    """1000 N at the middle 1 m up, feet ±1 × ±.5, 200 N towards y at 1.5 m."""
    found = study_balance(make_stance(), [push([0, 200, 0], [0, 0, 1.5])], FACTORS)
    alone, pushed = found.cases
    assert (alone.name, alone.overturning, alone.friction, alone.sliding) == (SELF_WEIGHT, 0.0, 0.0, 0.0)
    assert found.worst == found.slipping == 1
    assert pushed.place == "left fore – left hind"
    assert pushed.holding_Nm == pytest.approx(0.9 * 1000 * 0.5)
    assert pushed.overturning_Nm == pytest.approx(1.5 * 200 * 1.5)
    assert pushed.overturning == pytest.approx(1.0)
    assert pushed.friction == pytest.approx(1.5 * 200 / 900)
    assert pushed.sliding == pytest.approx(1.5 * 200 / 900 / 0.4)
    assert pushed.turn_Nm == 0
    # Characteristic reactions: 1000/4 ± 200 · 1.5 / 1 / 2 each.
    upward = {own.foot: own.force_N[2] for own in pushed.reactions}
    assert upward["left fore"] == pytest.approx(250 + 150)
    assert upward["right hind"] == pytest.approx(250 - 150)
    # The push is shared as the feet are pressed.
    along = {own.foot: own.force_N[1] for own in pushed.reactions}
    assert along["left fore"] == pytest.approx(-200 * 0.4)
    assert found.anchors == ()
    assert dict(found.ballast) == dict.fromkeys(("centre of mass", *FEET), 0.0)
    np.testing.assert_allclose(found.allowed_N[18], 0.9 * 1000 * 0.5 / 1.5 / 1.0)
    np.testing.assert_allclose(found.rose.force_N[18], 500)


def test_a_push_off_the_middle_turns_it():
    """At x = 1: 1.5 · 200 · 1 about the vertical through the centre of pressure."""
    found = study_balance(make_stance(), [push([0, 200, 0], [1, 0, 0])], FACTORS).cases[1]
    assert found.turn_Nm == pytest.approx(300)
    lever = np.hypot(1, 0.5)
    assert found.friction == pytest.approx((300 + 300 / lever) / 900)


def test_anchor_and_ballast_restore_what_was_missing(rng):
    """Applied: with the ballast as one more weight the worst is exactly used up; anchors of that strength hold."""
    needed = 0
    for _ in range(40):
        stance, actions = make_random(rng)
        found = study_balance(stance, actions, FACTORS)
        worst = found.cases[found.worst].overturning
        if worst <= 1:
            assert found.anchors == ()
            continue
        needed += 1
        places = {"centre of mass": stance.centre_m, **dict(zip(FEET, stance.contacts.points_m, strict=True))}
        for place, mass in found.ballast:
            if mass is not None:
                heavier = replace(
                    stance,
                    weights_N=np.array([*stance.weights_N, mass * GRAVITY]),
                    centres_m=np.array([*stance.centres_m, places[place]]),
                )
                after = study_balance(heavier, actions, FACTORS)
                assert after.cases[after.worst].overturning == pytest.approx(1, abs=1e-9)
        if all(np.isfinite(tension) for _, tension in found.anchors):
            footings = [Footing(foot, anchored=True, anchor_N=tension) for foot, tension in found.anchors]
            held = study_balance(replace(stance, supports=list_supports(FEET, footings, 0.4)), actions, FACTORS)
            assert held.anchored_feet
            if len(found.anchors) == 1:
                assert max(case.anchored for case in held.cases) <= 1 + 1e-9
    assert needed > 15


def test_ballast_against_sliding_where_the_feet_press_alike():
    stance = make_stance(friction=0.1)
    found = study_balance(stance, [push([0, 200, 0], [0, 0, 0.0])], FACTORS)
    assert found.sliding_ballast_kg == pytest.approx((300 / 0.1 - 900) / (0.9 * GRAVITY))
    heavier = make_stance(weights=((1000.0 + found.sliding_ballast_kg * GRAVITY, (0, 0, 1.0)),), friction=0.1)
    after = study_balance(heavier, [push([0, 200, 0], [0, 0, 0.0])], FACTORS)
    assert after.cases[1].sliding == pytest.approx(1)


def test_reactions_balance_every_case(rng):
    for _ in range(20):
        stance, actions = make_random(rng, 60.0)
        found = study_balance(stance, actions, FACTORS)
        for case in found.cases:
            if case.reactions is None:
                continue
            total = sum(own.force_N for own in case.reactions)
            acting = np.array([0, 0, -stance.weights_N.sum()])
            if case.force_N is not None:
                acting = acting + case.force_N
            lead = case.name
            for name in case.accompanying:
                assert name != lead
            if not case.accompanying:
                np.testing.assert_allclose(total + acting, 0, atol=1e-6)
            for own in case.reactions:
                low, high = own.range_N
                assert low - 1e-6 <= own.force_N[2] <= high + 1e-6


def test_feet_that_lift_carry_nothing():
    """Centre of pressure at (.6, .3): the foot across lifts, the others take what three take."""
    found = study_balance(make_stance(), [push([600, 300, 0], [0, 0, 1.0])], FACTORS).cases[1]
    upward = {own.foot: own.force_N[2] for own in found.reactions}
    assert upward["right hind"] == pytest.approx(0, abs=1e-9)
    assert upward["left hind"] == pytest.approx(200)
    assert upward["right fore"] == pytest.approx(200)
    assert upward["left fore"] == pytest.approx(600)
    # Beyond the edge nothing balances it.
    assert study_balance(make_stance(), [push([0, 600, 0], [0, 0, 1.2])], FACTORS).cases[1].reactions is None


@pytest.mark.parametrize("change", ["turn", "shift", "scale", "mirror"])
def test_figures_go_with_the_whole(rng, change):
    """Turned about the vertical, moved, scaled, mirrored: the same utilisations, tensions and masses that go along."""
    turn = Rotation.from_euler("z", 0.7).as_matrix()
    M, shift, size = {
        "turn": (turn, np.zeros(3), 1.0),
        "shift": (np.eye(3), np.array([30.0, -20.0, 5.0]), 1.0),
        "scale": (3.0 * np.eye(3), np.zeros(3), 3.0),
        "mirror": (np.diag([1.0, -1.0, 1.0]), np.zeros(3), 1.0),
    }[change]
    for _ in range(10):
        stance, actions = make_random(rng)
        points = stance.contacts.points_m @ M.T + shift
        moved = replace(
            stance,
            contacts=replace(stance.contacts, points_m=points, ground_m=points[:, 2]),
            corners=find_outline(points[:, :2]),
            centres_m=stance.centres_m @ M.T + shift,
            centre_m=M @ stance.centre_m + shift,
        )
        other = [
            replace(own, forces_N=own.forces_N @ M.T / size, points_m=own.points_m @ M.T + shift) for own in actions
        ]
        here, there = study_balance(stance, actions, FACTORS), study_balance(moved, other, FACTORS)
        for ours, theirs in zip(here.cases, there.cases, strict=True):
            assert theirs.overturning == pytest.approx(ours.overturning, rel=1e-9)
            assert theirs.place.split(" – ")[0] in FEET
            assert theirs.holding_Nm == pytest.approx(ours.holding_Nm * size, rel=1e-9)
            # The ways tried do not turn with the whole: within what 5° leave.
            assert theirs.friction == pytest.approx(ours.friction, rel=2e-2)
        assert dict(there.anchors) == pytest.approx(dict(here.anchors), rel=1e-9)
        for (_, ours), (_, theirs) in zip(here.ballast, there.ballast, strict=True):
            assert (ours is None) == (theirs is None)
            if ours is not None:
                assert theirs == pytest.approx(ours, rel=1e-9)


def test_mirrored_edges_name_the_first():
    """Wind from both sides alike: the left edge is named, whatever the rounding."""
    wind = Action("wind", "wind", np.array([[0, 300.0, 0], [0, -300.0, 0]]), np.full((2, 3), [0, 1e-17, 1.0]))
    assert study_balance(make_stance(), [wind], FACTORS).cases[1].place == "left fore – left hind"


def test_verdicts():
    strong, weak = push([0, 400, 0], [0, 0, 1.5]), push([0, 100, 0], [0, 0, 1.5])
    holds = study_balance(make_stance(), [weak], FACTORS)
    assert check_overturning(holds, (), "").state == "holds"
    assert check_overturning(holds, (), "").figure == pytest.approx(50)
    assert check_sliding(holds, (), "").state == "holds"
    close = study_balance(make_stance(), [push([0, 190, 0], [0, 0, 1.5])], FACTORS)
    assert check_overturning(close, (), "").state == "close"
    fails = study_balance(make_stance(), [strong], FACTORS)
    check = check_overturning(fails, (), "")
    assert (check.state, check.place) == ("fails", "push, over left fore – left hind")
    # 1.5 · 400 · 1.5 - .9 · 500 = 450 N·m, a metre away.
    assert "0.45 kN" in check.meaning
    assert check_sliding(fails, (), "").state == "fails"
    alone = check_overturning(study_balance(make_stance(), [], FACTORS), (), "")
    assert (alone.state, alone.figure) == ("holds", 0)
    assert alone.meaning == "nothing else is said to act"
    assert alone.place.startswith("self-weight, over ")


def test_what_is_not_known_is_said():
    found = study_balance(make_stance(friction=None), [push([0, 100, 0], [0, 0, 1.5])], FACTORS)
    sliding = check_sliding(found, (), "")
    assert (sliding.state, sliding.figure) == ("not known", None)
    assert "coefficient of friction" in sliding.missing
    assert "0.17" in sliding.meaning
    assert check_overturning(found, ("wind: its silhouettes",), "").state == "not known"
    # What fails already fails, whatever else may act.
    fails = study_balance(make_stance(), [push([0, 900, 0], [0, 0, 1.5])], FACTORS)
    assert check_overturning(fails, ("wind: its silhouettes",), "").state == "fails"
    assert check_overturning(None, (), "a support polygon").missing == "a support polygon"
    assert check_sliding(None, (), "a support polygon").state == "not known"


def test_anchors_that_are_there():
    """450 N·m are missing, the anchored feet are a metre away: two share them."""
    strong = [push([0, 400, 0], [0, 0, 1.5])]
    for strength, state in ((None, "not known"), (200.0, "fails"), (230.0, "close"), (900.0, "holds")):
        footings = [Footing(foot, anchored=True, anchor_N=strength) for foot in ("right fore", "right hind")]
        found = study_balance(make_stance(footings=footings), strong, FACTORS)
        check = check_overturning(found, (), "")
        assert check.state == state, (strength, check)
    assert check_sliding(found, (), "").state == "not known"


def test_without_the_feet_of_every_case_all_else_is_the_same(rng):
    for _ in range(5):
        stance, actions = make_random(rng)
        full, lean = (study_balance(stance, actions, FACTORS, with_feet=own) for own in (True, False))
        assert any(case.reactions for case in full.cases)
        for one, other in zip(full.cases, lean.cases, strict=True):
            assert other.reactions == ()
            kept = {name: value for name, value in vars(one).items() if name != "reactions"}
            for name, value in kept.items():
                np.testing.assert_array_equal(value, getattr(other, name), strict=isinstance(value, np.ndarray))
