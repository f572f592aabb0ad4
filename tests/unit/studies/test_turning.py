"""Joints turned one after the other give the figures of the whole study, and drift nowhere."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.build.materials import default_build
from core_calcs.site.actions import Footing
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.pose import Pose
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies import turning
from core_calcs.studies.assess import assess_prepared, prepare
from core_calcs.studies.turning import take_pose, turn_joint

ANYWHERE = Site(contact_tolerance_m=1e3)


def make_prepared(random_skeletons, rng, count=60, feet=6, bushy=4):
    skeleton = random_skeletons.make_random_skeleton(count, rng, feet, bushy)
    return prepare(skeleton, default_build())


def compare(posed, tolerance=1e-12):
    """Greatest difference from the whole study as a share of length, weight, and weight × length; equal states."""
    found = assess_prepared(posed.prepared, posed.pose, posed.site)
    ours, weight = posed.self_weight, found.mass_kg * GRAVITY
    points = np.array([load.point_m for load in found.joints])
    size = np.ptp(np.array([*points, found.centre_m]), axis=0).max()
    unknown = [np.nan] * 3
    forces = np.array([unknown if load.force_N is None else load.force_N for load in found.joints])
    moments = np.array([unknown if load.moment_Nm is None else load.moment_Nm for load in found.joints])
    pairs = [
        (ours.centre_m, found.centre_m, size),
        (ours.joints_m, points, size),
        (ours.forces_N, forces, weight),
        (ours.moments_Nm, moments, weight * size),
        (ours.support_polygon_m, found.support_polygon_m, size),
    ]
    assert (ours.margins is None) == (not found.edges)
    if ours.margins is not None:
        edges = np.array([(edge.distance_m, edge.tip_angle_rad, edge.energy_J) for edge in found.edges]).T
        figures = (ours.margins.distance_m, ours.margins.tip_angle_rad, ours.margins.energy_J)
        pairs += list(zip(figures, edges, (size, 1.0, weight * size), strict=True))
    told = [foot.force_N for foot in found.feet]
    assert (ours.feet_N is None) == (None in told) or not told
    if ours.feet_N is not None:
        pairs.append((ours.feet_N, np.array(told), weight))
    for got, expected, scale in pairs:
        assert np.shape(got) == np.shape(expected)
        np.testing.assert_array_equal(np.isnan(got), np.isnan(expected))
        np.testing.assert_allclose(np.nan_to_num(got), np.nan_to_num(expected), rtol=0, atol=tolerance * scale)


def walk(posed, rng, changes, spread=0.3):
    """Random joints turned one after the other."""
    children = [joint.child for joint in posed.prepared.skeleton.joints]
    for _ in range(changes):
        posed = turn_joint(posed, children[rng.integers(len(children))], rng.normal(size=3) * spread)
        yield posed


@pytest.mark.parametrize("refresh", [turning.REFRESH, 10**9])
def test_a_thousand_changes(random_skeletons, rng, monkeypatch, refresh):
    """With and without a fresh study in between."""
    monkeypatch.setattr(turning, "REFRESH", refresh)
    prepared = make_prepared(random_skeletons, rng)
    posed = take_pose(prepared, Pose("p"), ANYWHERE)
    told = set()
    for step, at in enumerate(walk(posed, rng, 1000)):
        if step % 50 == 49:
            compare(at)
            told.add(at.self_weight.feet_N is None)
    # Both what stands and what falls over came up.
    assert told == {True, False}


@pytest.mark.parametrize(("count", "bushy", "feet"), [(2, 1, 1), (120, 1, 3), (80, 40, 0), (300, 8, 8)])
def test_trees_of_every_shape(random_skeletons, rng, count, bushy, feet):
    prepared = make_prepared(random_skeletons, rng, count, feet, bushy)
    for at in walk(take_pose(prepared, Pose("p"), ANYWHERE), rng, 15, 0.05):
        compare(at)


def test_far_from_the_origin_and_with_feet_that_lift(random_skeletons, rng):
    """A real ground: feet come and go, one is idle; far away the places have fewer digits."""
    prepared = make_prepared(random_skeletons, rng)
    pose = Pose("p", {}, make_transform(np.eye(3), [1e4, -2e4, 0.0]), idle_feet=("foot 2",))
    site = Site(ground_m=-0.3, contact_tolerance_m=0.05)
    counts = set()
    for at in walk(take_pose(prepared, pose, site), rng, 60, 1.0):
        compare(at, 1e-10)
        counts.add(len(at.self_weight.contacts_m))
    assert len(counts) > 2


@pytest.mark.parametrize("anchored", [False, True])
def test_feet_on_uneven_ground_of_different_stiffness(random_skeletons, rng, anchored):
    footings = (Footing("foot 0", 0.2, 3e5), Footing("foot 3", -0.1, 9e5, anchored=anchored))
    site = replace(ANYWHERE, footings=footings)
    for at in walk(take_pose(make_prepared(random_skeletons, rng), Pose("p"), site), rng, 40):
        compare(at)


def test_earlier_state_stays(random_skeletons, rng):
    posed = take_pose(make_prepared(random_skeletons, rng), Pose("p"), ANYWHERE)
    for _ in walk(posed, rng, 5):
        compare(posed)


def test_what_straddles_two_moves_by_its_own(random_skeletons, rng):
    """An element between two others, one of which turns; then both of them on one branch that turns."""
    skeleton = random_skeletons.make_random_skeleton(12, rng, 4, 1)
    joints = list(skeleton.joints)
    # The last element follows the fifth as well as its parent, and cannot turn itself.
    joints[-1] = replace(joints[-1], kind="fixed", also="e4")
    skeleton = replace(skeleton, joints=tuple(joints))
    posed = take_pose(prepare(skeleton, default_build()), Pose("p"), ANYWHERE)
    for child in ("e7", "e2", "e5", "e1"):
        posed = turn_joint(posed, child, rng.normal(size=3) * 0.4)
        compare(posed)


def test_what_cannot_turn_is_refused(random_skeletons, rng):
    posed = take_pose(make_prepared(random_skeletons, rng), Pose("p"), ANYWHERE)
    with pytest.raises(SkeletonError, match="has no joint"):
        turn_joint(posed, "nobody", np.zeros(3))
    with pytest.raises(SkeletonError, match="not three numbers"):
        turn_joint(posed, "e3", np.array([0, np.nan, 0]))
    with pytest.raises(SkeletonError, match="not three numbers"):
        turn_joint(posed, "e3", np.zeros(2))
