"""A joint is turned until it would leave its range; where that is, is held against the range's own measure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.skeleton.directions import list_directions
from core_calcs.skeleton.joint import AxisLimit, Envelope, Joint, Stop
from core_calcs.studies.held_turn import turn_joint
from core_calcs.studies.stops import measure_joint_inside

ENDS = np.array([(-0.5, 0.4), (-0.3, 0.3), (-0.2, 0.6)])


def make_joint(share: float | None = None) -> Joint:
    """With the limits above; share : how far its envelope reaches in every direction but those of the axes."""
    limits = tuple(AxisLimit(*(Stop(end, "bone contact", None) for end in ends)) for ends in ENDS.tolist())
    joint = Joint("parent", "child", "by hand", np.eye(4), (1, 1, 1), limits, (), "by hand", "test", None)
    if share is None:
        return joint
    shares = np.full(len(list_directions().directions), share)
    shares[:6] = 1.0
    return replace(joint, envelope=Envelope(ENDS, shares))


@pytest.mark.parametrize(("axis", "wanted", "end"), [(0, 1.0, 0.4), (0, -1.0, -0.5), (1, 0.9, 0.3), (2, 3.0, 0.6)])
def test_it_stops_at_the_limit_of_the_axis(axis: int, wanted: float, end: float) -> None:
    turn = turn_joint(make_joint(), np.zeros(3), wanted * np.eye(3)[axis])
    assert turn.held
    assert turn.angles_rad[axis] == pytest.approx(end, abs=1e-4)
    assert turn.axes[axis].reached.angle_rad == end
    assert np.delete(turn.angles_rad, axis).tolist() == [0, 0]


def test_inside_it_goes_all_the_way() -> None:
    turn = turn_joint(make_joint(0.7), (0.1, 0.1, 0.1), (-0.1, 0.05, 0.2))
    assert not turn.held
    assert turn.angles_rad.tolist() == [-0.1, 0.05, 0.2]
    assert turn.inside_rad > 0


def test_the_envelope_stops_it_before_any_axis_is_at_its_limit() -> None:
    joint, rng = make_joint(0.6), np.random.default_rng(3)
    for wanted in rng.normal(size=(20, 3)):
        turn = turn_joint(joint, np.zeros(3), 2 * wanted)
        assert turn.held
        assert measure_joint_inside(joint, turn.angles_rad) == pytest.approx(0, abs=1e-4)
        for share in np.linspace(0, 1, 50):  # and nowhere on the way was it outside
            assert measure_joint_inside(joint, share * turn.angles_rad) > -1e-4
        assert np.linalg.norm(np.cross(turn.angles_rad, wanted)) < 1e-9


def test_it_slides_along_the_boundary_and_comes_back_inside() -> None:
    at_end = turn_joint(make_joint(), np.zeros(3), (1.0, 0, 0)).angles_rad
    along = turn_joint(make_joint(), at_end, at_end + np.array((0, 0.2, 0)))
    assert not along.held
    assert turn_joint(make_joint(), at_end, (-0.3, 0, 0)).angles_rad.tolist() == [-0.3, 0, 0]


def test_what_is_outside_comes_no_farther_out_but_may_return() -> None:
    joint = make_joint()
    assert turn_joint(joint, (0.7, 0, 0), (0.9, 0, 0)).angles_rad[0] == pytest.approx(0.7, abs=1e-4)
    assert turn_joint(joint, (0.7, 0, 0), (0.5, 0, 0)).angles_rad.tolist() == [0.5, 0, 0]
    back = turn_joint(joint, (0.7, 0, 0), (-0.9, 0, 0))
    assert back.angles_rad[0] == pytest.approx(-0.5, abs=1e-4)


def test_without_hold_or_limits_it_goes_all_the_way() -> None:
    joint = make_joint()
    beyond = turn_joint(joint, np.zeros(3), (0.9, 0, 0), hold=False)
    assert beyond.angles_rad.tolist() == [0.9, 0, 0]
    assert beyond.axes[0].beyond_rad == pytest.approx(0.5)
    free = turn_joint(replace(joint, limits=None), np.zeros(3), (0.9, 0, 0))
    assert (free.held, free.inside_rad) == (False, None)
