"""Feet set down each on its own ground by their legs; what then stands is held there and balances as it should."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.spatial import ConvexHull

from core_calcs.build.materials import default_build
from core_calcs.posing.bounds import lie_within
from core_calcs.posing.posing import Posing
from core_calcs.site.actions import Footing
from core_calcs.site.site import Site
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.transforms import apply
from core_calcs.studies.assess import assess
from core_calcs.studies.legs import find_ground, find_legs, place_points
from core_calcs.studies.planting import plant_feet
from core_calcs.studies.posing import PlaceGoal, prepare_posing, reach
from core_calcs.studies.stand import find_standing
from tests.made_up_walker import make_walker

STANDING = Pose("standing")
STEPS_M = {"fore left foot": 0.08, "fore right foot": 0.05, "hind left foot": -0.01}
OFFSET_M = np.array([0.05, 0.02, -0.05])
FEET = ("fore left foot", "fore right foot", "hind left foot", "hind right foot")


@pytest.fixture(scope="module")
def walker() -> Posing:
    return prepare_posing(make_walker())


@pytest.fixture(scope="module")
def site(walker: Posing) -> Site:
    """Steps under three of the feet; the level of the fourth is where the walker stands."""
    low = min(find_lows(walker, STANDING).values())
    footings = tuple(Footing(name, height_m=height) for name, height in STEPS_M.items())
    return Site(ground_m=low, contact_tolerance_m=1e-4, footings=footings)


def find_lows(posing: Posing, pose: Pose) -> dict[str, float]:
    return {
        foot.name: min(float(points[:, 2].min()) for points in place_points(posing, pose, foot).values())
        for foot in posing.skeleton.feet
    }


def lies_inside(posing: Posing, pose: Pose) -> bool:
    angles = np.array([pose.angles_rad.get(joint.child, np.zeros(3)) for joint in posing.skeleton.joints])
    return bool(lie_within(posing.bounds, angles).all())


def test_every_foot_comes_to_its_own_ground(walker: Posing, site: Site) -> None:
    assert find_standing(walker.skeleton, STANDING, site).feet == ("fore left foot",), "as a whole it stands on one"
    pose, planted = plant_feet(walker, STANDING, site)
    assert tuple(own.foot for own in planted) == FEET
    ground, lows = find_ground(walker, site), find_lows(walker, pose)
    for own in planted:
        assert ground[own.foot] == pytest.approx(site.ground_m + STEPS_M.get(own.foot, 0.0), abs=1e-12)
        assert lows[own.foot] == pytest.approx(ground[own.foot], abs=1e-6)
        assert own.moved_m == pytest.approx(lows[own.foot] - find_lows(walker, STANDING)[own.foot], abs=1e-9)
        assert own.shifted_m < 1e-3
        assert own.turned_rad < np.radians(3)
    assert set(find_standing(walker.skeleton, pose, site).feet) == set(FEET)
    np.testing.assert_array_equal(pose.X_WN, STANDING.X_WN)
    assert lies_inside(walker, pose)


def test_what_is_out_of_reach_is_told_and_stays_inside(walker: Posing, site: Site) -> None:
    pit = replace(site, footings=(Footing("fore left foot", height_m=-0.6),))
    pose, (own,) = plant_feet(walker, STANDING, pit, ["fore left foot"])
    assert own.off_m > 0.3
    assert own.off_m == pytest.approx(find_lows(walker, pose)["fore left foot"] - (site.ground_m - 0.6), abs=1e-9)
    assert lies_inside(walker, pose)


def test_a_foot_that_is_let_off_stays_where_it_is(walker: Posing, site: Site) -> None:
    lifted = replace(STANDING, idle_feet=("fore left foot",))
    pose, planted = plant_feet(walker, lifted, site)
    assert tuple(own.foot for own in planted) == FEET[1:]
    assert find_lows(walker, pose)["fore left foot"] == pytest.approx(find_lows(walker, STANDING)["fore left foot"])
    with pytest.raises(SkeletonError, match="no foot of a limb"):
        plant_feet(walker, replace(STANDING, idle_feet=FEET), site)


def test_feet_on_steps_are_held_there(walker: Posing, site: Site) -> None:
    stands, _ = plant_feet(walker, STANDING, site)
    root = walker.skeleton.root
    centre = apply(root.X_WE, root.solid.centre_m[None])[0]
    legs, held = find_legs(walker, FEET)
    goal = PlaceGoal(root.name, root.solid.centre_m, centre + OFFSET_M)
    found = reach(walker, stands, [goal], legs, held, 1.0)
    assert found.misses[0] < 1e-3
    before, after = (
        np.concatenate([p for foot in walker.skeleton.feet for p in place_points(walker, pose, foot).values()])
        for pose in (stands, found.pose)
    )
    assert np.linalg.norm(after - before, axis=1).max() < 1e-5
    assert set(find_standing(walker.skeleton, found.pose, site).feet) == set(FEET)


def test_on_steps_it_stands_and_tips_as_two_ways_tell(walker: Posing, site: Site) -> None:
    """Margin and tip angle from the contact points alone, in closed form; reactions against linear programming.

    The heights of what bears do not move the plumb line: the polygon is that of the plan, and the tip angle about an
    edge that slants is taken about the edge as it lies.
    """
    pose, _ = plant_feet(walker, STANDING, site)
    found = assess(walker.skeleton, pose, default_build(), site)
    placed, ground = place_elements(walker.skeleton, pose), find_ground(walker, site)
    weights = np.array([own.solid.volume_m3 for own in walker.skeleton.elements])
    centres = np.array(
        [apply(placed[i], own.solid.centre_m[None])[0] for i, own in enumerate(walker.skeleton.elements)]
    )
    centre = weights @ centres / weights.sum()
    np.testing.assert_allclose(found.centre_m, centre, atol=1e-9)
    stands = [
        (foot.name, np.array([*point[:2], ground[foot.name]]))
        for foot in walker.skeleton.feet
        for points in place_points(walker, pose, foot).values()
        for point in points
        if point[2] <= ground[foot.name] + site.contact_tolerance_m
    ]
    assert {name for name, _ in stands} == set(FEET)
    points = np.array([point for _, point in stands])
    corners = points[ConvexHull(points[:, :2]).vertices]
    edges = list(zip(corners, np.roll(corners, -1, axis=0), strict=True))
    margins = [abs(np.linalg.det([b[:2] - a[:2], centre[:2] - a[:2]])) / np.linalg.norm((b - a)[:2]) for a, b in edges]
    assert found.distance_margin_m == pytest.approx(min(margins), rel=1e-6)
    tips = []
    for a, b in edges:
        # Turned about the edge until the centre is straight above it: the angle between the plane through edge and
        # centre and the upright plane through the edge.
        upright = np.cross(b - a, [0, 0, 1.0])
        through = np.cross(b - a, centre - a)
        cosine = abs(upright @ through) / np.linalg.norm(upright) / np.linalg.norm(through)
        tips.append(np.arccos(min(cosine, 1.0)))
    assert found.tip_angle_rad == pytest.approx(min(tips), rel=1e-6)
    forces = {foot.foot: foot for foot in found.feet}
    plan = np.concatenate([np.ones((1, len(points))), points[:, :2].T])
    weight = found.mass_kg * 9.80665
    wanted = weight * np.array([1, *centre[:2]])
    for name in FEET:
        own = np.array([float(other == name) for other, _ in stands])
        least, greatest = (linprog(sign * own, A_eq=plan, b_eq=wanted).fun * sign for sign in (1, -1))
        assert forces[name].range_N[0] == pytest.approx(least, abs=2e-2 * weight)
        assert forces[name].range_N[1] == pytest.approx(greatest, abs=2e-2 * weight)
    held = np.array([float(forces[name].force_N) for name in FEET])
    assert held.sum() == pytest.approx(weight, rel=1e-9)
