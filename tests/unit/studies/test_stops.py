"""Where a joint stands in its range: away from its stops, at one, beyond one."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.skeleton.joint import AxisLimit, Joint, Stop
from core_calcs.studies.assessment import JointUse
from core_calcs.studies.stops import NEAR_RAD, judge_range, use_axes

PLACE = np.array([0.1, 0.0, 0.3])


def make_joint(limits: tuple[AxisLimit, AxisLimit, AxisLimit] | None) -> Joint:
    return Joint("a", "b", "column", np.eye(4), (1, -1, 1), limits, (), "found", "", None)


def between(low: float, high: float) -> AxisLimit:
    return AxisLimit(Stop(low, "facet overlap", None), Stop(high, "bone contact", PLACE))


JOINT = make_joint(
    (between(-0.3, 0.4), between(-0.2, 0.2), AxisLimit(Stop(0.0, "held", None), Stop(0.0, "held", None)))
)


@pytest.mark.parametrize(
    ("angle", "state", "reason", "beyond"),
    [
        (0.0, "holds", None, 0.0),
        (0.4 - 1.01 * NEAR_RAD, "holds", None, 0.0),
        (0.4 - 0.99 * NEAR_RAD, "close", "bone contact", 0.0),
        (0.4 + 5e-5, "close", "bone contact", 0.0),
        (0.45, "fails", "bone contact", 0.05),
        (-0.3, "close", "facet overlap", 0.0),
        (-0.33, "fails", "facet overlap", 0.03),
    ],
)
def test_one_axis(angle: float, state: str, reason: str | None, beyond: float) -> None:
    flexion, lateral, axial = use_axes(JOINT, (angle, 0.0, 0.0))
    assert (flexion.axis, flexion.angle_rad, flexion.state) == ("flexion", angle, state)
    assert (flexion.reached.reason if flexion.reached else None) == reason
    assert flexion.beyond_rad == pytest.approx(beyond)
    assert [lateral.state, axial.state] == ["holds", "holds"]


def test_the_place_is_that_of_the_end_reached() -> None:
    (flexion, _, _) = use_axes(JOINT, (0.4, 0.0, 0.0))
    assert flexion.reached is not None
    assert flexion.reached.place_m is PLACE


def test_a_held_axis_speaks_only_where_it_is_turned() -> None:
    assert use_axes(JOINT, np.zeros(3))[2].reached is None
    turned = use_axes(JOINT, (0.0, 0.0, -0.1))[2]
    assert (turned.state, turned.beyond_rad) == ("fails", pytest.approx(0.1))


def test_without_limits_nothing_is_known() -> None:
    assert {use.state for use in use_axes(make_joint(None), (0.5, 0.0, 0.0))} == {"not known"}


@pytest.mark.parametrize(
    ("inside", "state"), [(0.2, "holds"), (0.9 * NEAR_RAD, "close"), (-5e-5, "close"), (-0.01, "fails")]
)
def test_the_whole_range(inside: float, state: str) -> None:
    assert judge_range(JointUse("b", np.zeros(3), np.zeros(3), inside)) == state


def test_without_limits_nothing_is_known_of_the_whole_range() -> None:
    assert judge_range(JointUse("b", np.zeros(3), None, None)) == "not known"
