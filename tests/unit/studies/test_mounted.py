"""What stood elsewhere is told by how much: against turns and shifts that were made, whatever discs and poses do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.skeleton.discs import find_disc_shifts
from core_calcs.skeleton.joint import DiscThickness
from core_calcs.skeleton.pose import AS_MOUNTED, Pose
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.transforms import apply, make_transform
from core_calcs.studies.mounted import list_moved


@pytest.fixture
def skeleton(random_skeletons, rng):
    return random_skeletons.make_random_skeleton(12, rng)


def places(skeleton) -> dict[str, np.ndarray]:
    return {element.name: element.X_WE for element in skeleton.elements}


def turn_and_shift(element, R: np.ndarray, shift: np.ndarray) -> np.ndarray:
    """The element turned about its centre and then moved."""
    centre = apply(element.X_WE, np.asarray(element.solid.centre_m)[None])[0]
    return make_transform(R, centre - R @ centre + shift) @ element.X_WE


def test_shift_and_turn_are_those_that_were_made(skeleton, random_skeletons, rng):
    one, other = (skeleton.elements[i] for i in (3, 7))
    R, shift = random_skeletons.make_rotation(rng), rng.normal(size=3)
    half = np.diag([-1.0, 1.0, -1.0])
    mounted = places(skeleton) | {
        one.name: turn_and_shift(one, R, shift),
        other.name: turn_and_shift(other, half, np.zeros(3)),
    }
    X_WN = make_transform(random_skeletons.make_rotation(rng), rng.normal(size=3))
    found = list_moved(skeleton, Pose(AS_MOUNTED, {}, X_WN, mounted=mounted))
    assert [moved.element for moved in found] == [one.name, other.name]
    np.testing.assert_allclose(found[0].shift_m, -shift, atol=1e-12)
    assert np.cos(found[0].angle_rad) == pytest.approx((np.trace(R) - 1) / 2, abs=1e-12)
    np.testing.assert_allclose(found[0].X_WE, X_WN @ mounted[one.name], atol=1e-12)
    assert np.degrees(found[1].angle_rad) == pytest.approx(180)
    np.testing.assert_allclose(found[1].shift_m, 0, atol=1e-12)


def test_what_is_not_named_stood_against_its_parent_as_now(skeleton, rng):
    """The root moved alone in the pose takes all that is not named along."""
    root, shift = skeleton.root, np.array([0.003, 0.0, 0.004])
    found = list_moved(skeleton, Pose(AS_MOUNTED, mounted={root.name: turn_and_shift(root, np.eye(3), shift)}))
    assert [moved.element for moved in found] == [element.name for element in skeleton.elements]
    for moved in found:
        np.testing.assert_allclose(moved.shift_m, -shift, atol=1e-12)
        assert moved.angle_rad == pytest.approx(0, abs=1e-12)


def test_what_discs_have_moved_is_not_counted(skeleton):
    mounted = places(skeleton)
    joint = next(own for own in skeleton.joints if own.also is None)
    disc = DiscThickness(0.01, np.array([0.02, 0.0, 0.0]), "dry")
    thick = [replace(own, disc=disc) if own is joint else own for own in skeleton.joints]
    before = build_skeleton(skeleton.name, skeleton.elements, tuple(thick), skeleton.feet, skeleton.left_out)
    shifts = find_disc_shifts(before)
    assert np.linalg.norm(shifts[joint.child]) > 0.01
    moved = tuple(
        replace(element, X_WE=make_transform(element.X_WE[:3, :3], element.X_WE[:3, 3] + shifts[element.name]))
        for element in skeleton.elements
    )
    now = build_skeleton(skeleton.name, moved, tuple(thick), skeleton.feet, skeleton.left_out)
    assert list_moved(now, Pose(AS_MOUNTED, mounted=mounted)) == ()


def test_other_poses_and_poses_that_do_not_fit(skeleton):
    assert list_moved(skeleton, Pose("bent")) == ()
    with pytest.raises(SkeletonError, match="no element"):
        list_moved(skeleton, Pose(AS_MOUNTED, mounted={"nobody": np.eye(4)}))
