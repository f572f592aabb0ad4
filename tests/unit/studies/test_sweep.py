"""Many poses at once give the figures of each pose's own study."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.build.materials import default_build
from core_calcs.site.actions import Footing
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies import sweep
from core_calcs.studies.assess import assess_prepared, prepare
from core_calcs.studies.sweep import list_turning_joints, sweep_angles

ANYWHERE = Site(contact_tolerance_m=1e3)


def compare(prepared, pose, site, angles, tolerance=1e-12):
    """Every pose against `assess_prepared`; how many were carried by their feet."""
    found = sweep_angles(prepared, pose, site, angles)
    at = {joint.child: i for i, joint in enumerate(prepared.skeleton.joints)}
    for i, own in enumerate(angles):
        posed = replace(pose, angles_rad=dict(zip(found.joints, own, strict=True)))
        study = assess_prepared(prepared, posed, site)
        loads = [study.joints[at[child]] for child in found.joints]
        weight, unknown = study.mass_kg * GRAVITY, np.full(3, np.nan)
        size = np.ptp(np.array([load.point_m for load in study.joints]), axis=0).max() + 0.1
        forces = np.array([unknown if load.force_N is None else load.force_N for load in loads])
        moments = np.array([unknown if load.moment_Nm is None else load.moment_Nm for load in loads])
        none = [np.nan]
        pairs = [
            (found.centres_m[i], study.centre_m, size),
            (found.forces_N[:, i], forces[:, 2], weight),
            (found.moments_Nm[:, :, i], moments[:, :2], weight * size),
            (found.feet_N[i], np.array([np.nan if f.force_N is None else f.force_N for f in study.feet]), weight),
            (found.distance_m[i], min(none if not study.edges else [e.distance_m for e in study.edges]), size),
            (found.tip_angle_rad[i], min(none if not study.edges else [e.tip_angle_rad for e in study.edges]), 1.0),
            (found.energy_J[i], min(none if not study.edges else [e.energy_J for e in study.edges]), weight * size),
        ]
        for got, expected, scale in pairs:
            np.testing.assert_array_equal(np.isnan(got), np.isnan(expected))
            np.testing.assert_allclose(np.nan_to_num(got), np.nan_to_num(expected), rtol=0, atol=tolerance * scale)
    return int((~np.isnan(found.feet_N)).all(axis=1).sum())


def make_angles(prepared, rng, count, spread):
    return rng.normal(size=(count, len(list_turning_joints(prepared)), 3)) * spread


@pytest.mark.parametrize(("count", "bushy", "feet"), [(40, 4, 6), (60, 1, 4), (80, 40, 3), (30, 4, 1), (20, 3, 0)])
def test_every_pose_by_itself(random_skeletons, rng, count, bushy, feet):
    skeleton = random_skeletons.make_random_skeleton(count, rng, feet, bushy)
    prepared = prepare(skeleton, default_build())
    # Some joints are fixed: what hangs on them rides along.
    fixed = tuple(replace(j, kind="fixed") if k % 4 == 1 else j for k, j in enumerate(skeleton.joints))
    for own in (prepared, prepare(replace(skeleton, joints=fixed), default_build())):
        compare(own, Pose("p"), ANYWHERE, make_angles(own, rng, 25, 0.5))


def test_more_poses_than_a_chunk(random_skeletons, rng, monkeypatch):
    monkeypatch.setattr(sweep, "CHUNK", 16)
    prepared = prepare(random_skeletons.make_random_skeleton(40, rng, 6), default_build())
    assert 3 < compare(prepared, Pose("p"), ANYWHERE, make_angles(prepared, rng, 40, 0.4)) < 40


def test_placed_anywhere_with_feet_of_many_points_that_come_and_go(random_skeletons, rng):
    skeleton = random_skeletons.make_random_skeleton(30, rng, 5)
    feet = tuple(
        Foot(f.name, (Contact(f.contacts[0].element, f.contacts[0].points_m + rng.normal(size=(12, 3)) * 0.1),))
        for f in skeleton.feet
    )
    prepared = prepare(replace(skeleton, feet=feet), default_build())
    R = random_skeletons.make_rotation(rng)
    pose = Pose("p", {}, make_transform(R, [30.0, -20.0, 0.2]), idle_feet=("foot 1",))
    carried = compare(prepared, pose, Site(ground_m=-0.1, contact_tolerance_m=0.3), make_angles(prepared, rng, 60, 0.5))
    assert 0 < carried < 60


@pytest.mark.parametrize("anchored", [False, True])
def test_feet_on_uneven_ground_of_different_stiffness(random_skeletons, rng, anchored):
    prepared = prepare(random_skeletons.make_random_skeleton(40, rng, 6), default_build())
    footings = (Footing("foot 0", 0.2, 3e5), Footing("foot 3", -0.1, 9e5, anchored=anchored))
    site = replace(ANYWHERE, footings=footings)
    assert compare(prepared, Pose("p"), site, make_angles(prepared, rng, 25, 0.4)) > 3


def test_what_straddles_two_is_swept_pose_by_pose(random_skeletons, rng):
    skeleton = random_skeletons.make_random_skeleton(12, rng, 4, 1)
    joints = (*skeleton.joints[:-1], replace(skeleton.joints[-1], kind="fixed", also="e4"))
    prepared = prepare(replace(skeleton, joints=joints), default_build())
    compare(prepared, Pose("p"), ANYWHERE, make_angles(prepared, rng, 5, 0.4))


def test_what_cannot_be_swept_is_refused(random_skeletons, rng):
    prepared = prepare(random_skeletons.make_random_skeleton(5, rng, 0), default_build())
    for angles in (np.zeros((3, 2, 3)), np.zeros((0, 4, 3)), np.full((1, 4, 3), np.nan)):
        with pytest.raises(SkeletonError, match="4 joints are wanted"):
            sweep_angles(prepared, Pose("p"), Site(), angles)
    with pytest.raises(SkeletonError, match="as mounted"):
        sweep_angles(prepared, Pose("p", mounted={"e1": np.eye(4)}), Site(), np.zeros((1, 4, 3)))
