"""Feet on ground of their own height, of their own stiffness, anchored: the whole study of a pose."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.build.materials import default_build
from core_calcs.site.actions import Footing
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, build_skeleton
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.assess import assess, prepare
from core_calcs.studies.stand import find_standing
from core_calcs.studies.turning import take_pose

FEET = ("left fore", "right fore", "left hind", "right hind")
PLAN = np.array([[1, 1], [1, -1], [-1, 1], [-1, -1]], float)
BUILD = default_build()


def build_table(random_skeletons, heights=(0, 0, 0, 0), head_x=0.0):
    """A top whose centre is 1 m above the site's ground, a head on it, and feet that end at the heights given."""
    solid = random_skeletons.make_solid(0.02, np.zeros(3), np.full(3, 0.2))
    elements = (
        random_skeletons.make_element("top", solid, make_transform(np.eye(3), [0, 0, 1])),
        random_skeletons.make_element("head", solid, make_transform(np.eye(3), [head_x, 0, 1.5])),
    )
    joint = random_skeletons.make_joint("top", "head", make_transform(np.eye(3), [0, 0, 1.2]))
    feet = tuple(
        Foot(name, (Contact("top", np.array([[*place, height - 1.0]])),))
        for name, place, height in zip(FEET, PLAN, heights, strict=True)
    )
    return build_skeleton("table", elements, (joint,), feet)


def list_states(found):
    return {check.name: check.state for check in found.checks}


def test_feet_on_a_step_stand_and_the_margins_are_those_of_slanting_edges(random_skeletons):
    skeleton = build_table(random_skeletons, (0.4, 0.4, 0, 0))
    level = assess(skeleton, Pose("p"), BUILD, Site())
    assert sum(len(foot.points_m) for foot in level.feet) == 2
    site = Site(footings=(Footing("left fore", 0.4), Footing("right fore", 0.4)))
    found = assess(skeleton, Pose("p"), BUILD, site)
    states = list_states(found)
    assert states["Stands"] == states["Feet on the ground bear load"] == states["Nothing below the ground"] == "holds"
    assert states["Equilibrium"] == "holds"
    assert found.distance_margin_m == pytest.approx(1.0)
    # The centre is at 1.25 m; over the side edges, which rise by .4 in 2 m, it is 1.05 m up, taken across the slope.
    slope = np.arctan(0.2)
    angles = sorted(edge.tip_angle_rad for edge in found.edges)
    expected = [np.arctan(1 / 1.25), *[np.arctan(1 / (1.05 * np.cos(slope)))] * 2, np.arctan(1 / 0.85)]
    np.testing.assert_allclose(angles, sorted(expected))
    turned = take_pose(prepare(skeleton, BUILD), Pose("p"), site)
    np.testing.assert_allclose(sorted(turned.self_weight.margins.tip_angle_rad), sorted(expected))


@pytest.mark.parametrize("turned_rad", [0.0, 0.7, 2.0])
@pytest.mark.parametrize("aside_m", [0.0, 0.25])
def test_three_feet_in_one_line_at_three_heights_are_no_base(random_skeletons, turned_rad, aside_m):
    """However high each of them stands: the polygon has no width, so there is neither margin nor tip angle."""
    heights, along = (0.0, 0.4, -0.3), (-1.0, 0.2, 0.7)
    solid = random_skeletons.make_solid(0.02, np.zeros(3), np.full(3, 0.2))
    top = random_skeletons.make_element("top", solid, make_transform(np.eye(3), [0, aside_m, 1]))
    feet = tuple(
        Foot(name, (Contact("top", np.array([[x, -aside_m, height - 1.0]])),))
        for name, x, height in zip(FEET[:3], along, heights, strict=True)
    )
    skeleton = build_skeleton("stool", (top,), (), feet)
    site = Site(footings=tuple(Footing(name, height) for name, height in zip(FEET[:3], heights, strict=True)))
    c, s = np.cos(turned_rad), np.sin(turned_rad)
    pose = Pose("p", X_WN=make_transform([[c, -s, 0], [s, c, 0], [0, 0, 1]], [31.0, -17.0, 0.0]))
    found = assess(skeleton, pose, BUILD, site)
    assert sum(len(foot.points_m) for foot in found.feet) == 3
    assert (found.edges, found.distance_margin_m, found.tip_angle_rad) == ((), None, None)
    check = next(check for check in found.checks if check.name == "Stands")
    assert (check.state, check.missing) == ("fails", "a support polygon: all contact points lie in one line")
    assert check.figure == pytest.approx(-aside_m, abs=1e-9)
    assert found.balance is None
    assert [foot.force_N for foot in found.feet] == [None] * 3


def test_a_foot_in_a_pit_is_not_below_the_ground_and_one_in_a_plinth_is(random_skeletons):
    skeleton = build_table(random_skeletons, (-0.3, 0, 0, 0))
    site = Site(footings=(Footing("left fore", -0.3),))
    found = assess(skeleton, Pose("p"), BUILD, site)
    assert sum(len(foot.points_m) for foot in found.feet) == 4
    assert list_states(found)["Nothing below the ground"] == "holds"
    # The same foot on a plinth is below it.
    sunk = assess(skeleton, Pose("p"), BUILD, Site(footings=(Footing("left fore", 0.1),)))
    check = next(check for check in sunk.checks if check.name == "Nothing below the ground")
    assert (check.state, check.place) == ("fails", "top")
    assert check.figure == pytest.approx(-0.4)


def test_setting_down_goes_by_every_foot_s_ground(random_skeletons):
    skeleton = build_table(random_skeletons, (0.5, 0.5, 0.1, 0.1))
    site = Site(footings=(Footing("left fore", 0.4), Footing("right fore", 0.4)))
    found = find_standing(skeleton, Pose("p"), site)
    assert found.lift_m == pytest.approx(-0.1)
    assert set(found.feet) == set(FEET)
    # .5 cos t - 2 sin t = .4: a tilt of about 3° brings all four down on the step, within the tolerance.
    tilted = build_table(random_skeletons, (0.5, 0.5, 0, 0))
    level = find_standing(tilted, Pose("p"), site, level=True)
    assert set(level.feet) == set(FEET)
    assert level.tilt_rad == pytest.approx(np.arccos(0.4 / np.hypot(0.5, 2)) - np.arctan2(2, 0.5), abs=5e-4)
    assert len(find_standing(tilted, Pose("p"), site).feet) == 2


def test_stiffness_of_the_ground_shares_the_weight(random_skeletons):
    footings = (Footing("left fore", stiffness_N_m=1e6), Footing("right hind", stiffness_N_m=1e6))
    soft = (Footing("right fore", stiffness_N_m=3e6), Footing("left hind", stiffness_N_m=3e6))
    found = assess(build_table(random_skeletons), Pose("p"), BUILD, Site(footings=footings + soft))
    weight = found.mass_kg * GRAVITY
    np.testing.assert_allclose([foot.force_N / weight for foot in found.feet], [1 / 8, 3 / 8, 3 / 8, 1 / 8])
    for foot in found.feet:
        np.testing.assert_allclose(foot.range_N, (0, weight / 2), atol=1e-9)


def test_anchors_carry_what_would_tip(random_skeletons):
    """The head far ahead: the centre .25 m beyond the fore feet; a quarter of that moment over 2 m, two hind feet."""
    skeleton = build_table(random_skeletons, head_x=2.5)
    tips = assess(skeleton, Pose("p"), BUILD, Site())
    assert list_states(tips)["Stands"] == "fails"
    assert all(foot.force_N is None for foot in tips.feet)
    pull = tips.mass_kg * GRAVITY * 0.25 / 2 / 2
    for strength, state in ((None, "not known"), (0.9 * pull, "fails"), (1.1 * pull, "holds")):
        footings = tuple(Footing(foot, anchored=True, anchor_N=strength) for foot in FEET[2:])
        site = Site(footings=footings)
        found = assess(skeleton, Pose("p"), BUILD, site)
        np.testing.assert_allclose([foot.force_N for foot in found.feet[2:]], [-pull, -pull])
        assert all(foot.range_N is None for foot in found.feet)
        states = list_states(found)
        assert states["Stands"] == states["Feet on the ground bear load"] == state
        assert states["Equilibrium"] == "holds"
        turned = take_pose(prepare(skeleton, BUILD), Pose("p"), site).self_weight
        np.testing.assert_allclose(turned.feet_N, [foot.force_N for foot in found.feet])
