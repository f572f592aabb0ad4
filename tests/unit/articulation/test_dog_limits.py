"""Limits of the dog's column: against an independent library, mirrored, and with tighter settings."""

from __future__ import annotations

import fcl
import numpy as np
import pytest

from core_calcs.articulation.limits import find_limits, prepare_trial, try_angles
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.spatial.rotations import joint_rotation
from core_calcs.spatial.transforms import invert, make_transform

pytestmark = pytest.mark.dog

FREE_AT_NEUTRAL = ("C_5", "T_1", "T_3", "T_5", "T_9", "L_1", "L_3", "L_6", "L_7", "Ca_4")
"""Of the joints whose bones do not touch as they lie: a spread over the column."""
TIGHTENED = ("C_5", "T_8", "L_4", "Sacrum", "Ca_4", "Ca_11")
ATTITUDES = 1000
NEAR_S = 0.01


@pytest.fixture(scope="module")
def surfaces(dog_column, dog_folder):
    return dog_column.read_vertebrae(dog_folder, set(dog_column.NAMES))


@pytest.fixture(scope="module")
def joints(dog_column, surfaces):
    """Those that are tried."""
    return dog_column.prepare_joints(surfaces, (*FREE_AT_NEUTRAL, *TIGHTENED))


@pytest.fixture(scope="module")
def all_joints(dog_column, surfaces):
    return dog_column.prepare_joints(surfaces)


def compute_limits(joint, settings=None):
    """(3, 2) low and high for flexion, lateral, axial [deg]."""
    given = joint.parent, joint.child, joint.pairs, joint.X_WJ, joint.senses
    limits = find_limits(*given, settings or LimitSettings())
    return np.degrees([[limit.low.angle_rad, limit.high.angle_rad] for limit in limits])


class Pair:
    """Two vertebrae in fcl, which knows nothing of grids and samples: triangles against triangles."""

    def __init__(self, joint, surfaces):
        self.joint = joint
        self.parent, self.child = (self._load(surfaces[bone.name]) for bone in (joint.parent, joint.child))

    @staticmethod
    def _load(surface):
        model = fcl.BVHModel()
        model.beginModel(len(surface.faces), len(surface.vertices))
        model.addSubModel(surface.vertices, surface.faces)
        model.endModel()
        return fcl.CollisionObject(model)

    def turn(self, angles, slide=(0, 0, 0)):
        turn = make_transform(joint_rotation(angles, self.joint.senses), np.zeros(3))
        X = self.joint.X_WJ @ turn @ invert(self.joint.X_WJ)
        self.child.setTransform(fcl.Transform(X[:3, :3], X[:3, 3] + slide))

    def collide(self):
        return fcl.collide(self.parent, self.child, fcl.CollisionRequest(), fcl.CollisionResult()) > 0

    def distance(self):
        return fcl.distance(self.parent, self.child, fcl.DistanceRequest(), fcl.DistanceResult())


def test_contact_is_what_an_independent_library_finds(joints, surfaces):
    """10 000 attitudes in the boxes of limits, no slide, no allowance: the same verdict in 99 % and more.

    Where they differ the bones lie within .01 s of touching: a shift of as much along one of 26 directions parts those
    that only fcl finds in contact, and those that only we find lie no farther apart.
    """
    settings, rng = LimitSettings(contact_share_s=0.0, slide_share_s=0.0), np.random.default_rng(1)
    shifts = np.array([step for step in np.ndindex(3, 3, 3) if step != (1, 1, 1)], float) - 1
    shifts /= np.linalg.norm(shifts, axis=1)[:, None]
    different, in_contact = 0, 0
    for name in FREE_AT_NEUTRAL:
        joint, pair = joints[name], Pair(joints[name], surfaces)
        trial = prepare_trial(joint.parent, joint.child, (), joint.X_WJ, joint.senses, settings)
        box = np.radians(compute_limits(joint))
        for angles in rng.uniform(box[:, 0], box[:, 1], (ATTITUDES, 3)):
            pair.turn(angles)
            ours, theirs = try_angles(trial, angles) is not None, pair.collide()
            in_contact += theirs
            if ours == theirs:
                continue
            different += 1
            if ours:
                assert pair.distance() < NEAR_S * joint.size
                continue
            parted = []
            for shift in shifts * NEAR_S * joint.size:
                pair.turn(angles, shift)
                parted.append(not pair.collide())
            assert any(parted), (name, np.degrees(angles))
    tried = ATTITUDES * len(FREE_AT_NEUTRAL)
    assert 0.2 * tried < in_contact < 0.95 * tried  # both verdicts are asked for
    assert different <= 0.01 * tried


@pytest.mark.slow
def test_mirrored_bones_are_limited_as_far_to_the_other_side(dog_column, surfaces, all_joints):
    """The whole column computed again on mirrored bones, facets and all: what left was is right.

    The samples fall elsewhere, and so do the nodes of the grids: this is the method's own noise.
    """
    mirrored = dog_column.prepare_joints({name: dog_column.mirror(surface) for name, surface in surfaces.items()})
    differences = {}
    for name, joint in all_joints.items():
        ours, theirs = compute_limits(joint), compute_limits(mirrored[name])
        swapped = np.array([theirs[0], -theirs[1][::-1], -theirs[2][::-1]])
        for (axis, end), off in np.ndenumerate(np.abs(ours - swapped)):
            differences[name, axis, end] = off
    values = np.array(list(differences.values()))
    worst = sorted(differences.items(), key=lambda item: -item[1])[:12]
    report = f"median {np.median(values):.2f}, p95 {np.percentile(values, 95):.2f}, worst {worst}"
    assert np.median(values) <= 0.5, report
    assert np.percentile(values, 95) <= 1.5, report
    assert worst[0][1] < 2.5, report


@pytest.mark.parametrize("name", TIGHTENED)
def test_tighter_settings_never_widen_a_limit(joints, name):
    """Three random settings, and for each one that is tighter in all or in one."""
    rng = np.random.default_rng(len(name) + ord(name[-1]))
    for alone in (True, False, True):
        loose = LimitSettings(
            overlap_share=float(rng.uniform(0.1, 0.6)),
            contact_share_s=float(rng.uniform(0.01, 0.04)),
            slide_share_s=float(rng.uniform(0.01, 0.05)),
            gap_share_s=float(rng.uniform(0.05, 0.25)),
            search_rad=float(rng.uniform(0.2, 1.0)),
        )
        shares = rng.uniform(0, 0.6, 5) * (np.arange(5) == rng.integers(4) if alone else 1.0)
        tight = LimitSettings(
            overlap_share=loose.overlap_share + float(shares[0]) * (0.95 - loose.overlap_share),
            contact_share_s=loose.contact_share_s * (1 - float(shares[1])),
            slide_share_s=loose.slide_share_s * (1 - float(shares[2])),
            gap_share_s=loose.gap_share_s * (1 - float(shares[3])),
            search_rad=loose.search_rad * (1 - float(shares[4])),
        )
        wide, narrow = compute_limits(joints[name], loose), compute_limits(joints[name], tight)
        assert (narrow[:, 0] >= wide[:, 0]).all(), (loose, tight)
        assert (narrow[:, 1] <= wide[:, 1]).all(), (loose, tight)
