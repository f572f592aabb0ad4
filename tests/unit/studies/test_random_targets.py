"""A column of sixty joints sent to random places: inside every range whatever is asked, and there where it can be."""

from itertools import pairwise

import numpy as np
import pytest

from core_calcs.skeleton.envelope import lie_inside
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.studies.posing import PlaceGoal, bend_chain, bend_to, prepare_posing, reach

COUNT, NEUTRAL, TIP = 60, Pose("neutral"), "cervical 1"
CLOSE = 5e-3
"""Of the column's length: what a place within reach may be missed by after one call from neutral."""


@pytest.fixture(scope="module")
def column(chains):
    return prepare_posing(chains.make_column(COUNT, seed=1))


def count_outside(posing, pose):
    """How many joints are outside the box of their limits or their envelope."""
    outside = 0
    for joint in posing.skeleton.joints:
        angles = np.asarray(pose.angles_rad.get(joint.child, np.zeros(3)), float)
        boxed = all(
            limit.low.angle_rad <= angle <= limit.high.angle_rad
            for limit, angle in zip(joint.limits, angles, strict=True)
        )
        outside += not (boxed and lie_inside(joint.envelope, angles)[0])
    return outside


@pytest.mark.parametrize("count", [30, pytest.param(1000, marks=pytest.mark.slow)])
def test_random_places(column, count):
    """Every second place is one where the tip has been in a pose inside all ranges, the others are anywhere about."""
    rng = np.random.default_rng(11)
    row, far = column.skeleton.index(TIP), 0.1 * COUNT
    missed = []
    for k in range(count):
        place = rng.uniform(-1.2, 1.2, 3) * far
        if k % 2 == 0:
            hidden = bend_chain(column, NEUTRAL, "neck", rng.uniform(-1, 1, 3), fall_off=rng.uniform(-1, 1)).pose
            assert count_outside(column, hidden) == 0
            place = place_elements(column.skeleton, hidden)[row][:3, 3]
        reached = bend_to(column, NEUTRAL, "neck", place)
        assert count_outside(column, reached.pose) == 0
        if k % 2 == 0:
            missed.append(reached.misses[0] / far)
    assert np.mean(np.array(missed) < CLOSE) >= 0.97


def test_a_drag_goes_on_without_jumps_and_comes_back(column):
    """Out along a curve and back the same way: no joint goes far in one step, and it ends where it began."""
    t = np.linspace(0, 1, 40)
    way = np.stack([6.0 - 1.4 * t, 0.05 + 1.8 * np.sin(2 * t), 0.05 + 1.2 * t], axis=1)
    pose, poses = NEUTRAL, []
    for place in [*way, *way[::-1]]:
        goal = PlaceGoal(TIP, np.zeros(3), place)
        reached = reach(column, pose, [goal], "neck", start=NEUTRAL)
        assert count_outside(column, reached.pose) == 0
        assert reached.misses[0] < CLOSE * 6
        pose = reached.pose
        poses.append(np.array([pose.angles_rad.get(j.child, np.zeros(3)) for j in column.skeleton.joints]))
    steps = [np.degrees(np.abs(after - before).max()) for before, after in pairwise(poses[1:])]
    assert max(steps) < 1.0
    assert np.degrees(np.abs(poses[0] - poses[-1]).max()) < 0.2
