"""The coupled envelope of made-up joints against every attitude tried by itself."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core_calcs.articulation import envelopes
from core_calcs.articulation.column import column_axes
from core_calcs.articulation.column_joint import find_column_joint
from core_calcs.articulation.envelopes import find_envelope
from core_calcs.articulation.limits import find_limit, prepare_coverings, prepare_trial, try_angles
from core_calcs.skeleton.envelope import find_corners, lie_inside, measure_inside, measure_volume_deg3
from core_calcs.skeleton.joint import AxisLimit, LimitSettings, Stop
from core_calcs.spatial.errors import Cancelled

FRAME = np.array([[0.0, 1, 0, 0], [1, 0, 0, 0], [0, 0, -1, 0], [0, 0, 0, 1]])
GRID = 24 * 24 * 25


@pytest.fixture(scope="module")
def disc(shapes):
    """Round end plates .1 apart about the origin, held by a disc alone: bending and turning add up."""

    def prepare(name, sign):
        cylinder = trimesh.creation.cylinder(radius=0.4, height=0.3, sections=96)
        cylinder.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, (0, 1, 0)))
        cylinder.apply_translation((sign * 0.2, 0, 0))
        return shapes.prepare(name, shapes.from_trimesh(cylinder), size=1.0)

    parent, child = prepare("parent", -1), prepare("child", 1)
    pair = (
        shapes.pick_patch("centrum", parent, lambda p, n: n[:, 0] > 0.9),
        shapes.pick_patch("centrum", child, lambda p, n: n[:, 0] < -0.9),
    )
    settings = LimitSettings(contact_share_s=0.1, slide_share_s=0.0, gap_share_s=0.1)
    trial = prepare_trial(parent, child, prepare_coverings((pair,), 1.0), FRAME, (1, -1, 1), settings)
    limits = [find_limit(trial, axis, 1.0) for axis in range(3)]
    return trial, limits


def draw_attitudes(limits, count):
    ends = np.array([[limit.low.angle_rad, limit.high.angle_rad] for limit in limits])
    return np.random.default_rng(6).uniform(ends[:, 0], ends[:, 1], (count, 3))


def test_inside_is_what_every_attitude_by_itself_says(disc):
    trial, limits = disc
    envelope = find_envelope(trial, limits)
    attitudes = draw_attitudes(limits, 400)
    free = np.array([try_angles(trial, angles) is None for angles in attitudes])
    inside = lie_inside(envelope, attitudes)
    assert 0.2 < free.mean() < 0.9  # the box would say all
    assert (inside == free).mean() >= 0.96
    assert (inside & ~free).mean() <= 0.015
    # Where they differ the boundary is near: half a degree.
    for angles in attitudes[inside != free]:
        assert abs(measure_inside(limits, envelope, angles)) < np.radians(0.5)


def test_bending_any_way_and_turning_share_the_discs_stretch(disc):
    """A disc is round: lateral bending leaves as much turn as flexion does, and none is left at the limit."""
    trial, limits = disc
    envelope = find_envelope(trial, limits)
    bend, turn = limits[0].high.angle_rad, limits[2].high.angle_rad
    for share in (0.3, 0.6, 0.9):
        left = []
        for axis in (0, 1):
            angles = np.linspace(0, turn, 60)[:, None] * (0, 0, 1.0)
            angles[:, axis] = share * bend
            left.append(lie_inside(envelope, angles).sum() / 60)
        assert left[0] == pytest.approx(left[1], abs=0.06)
        assert left[0] < 1 - 0.3 * share**2


def test_the_ends_of_the_axes_are_the_limits_and_the_volume_is_less_than_the_boxs(disc):
    trial, limits = disc
    envelope = find_envelope(trial, limits)
    corners = find_corners(envelope)[:6]
    ends = np.array([[limit.low.angle_rad, limit.high.angle_rad] for limit in limits])
    np.testing.assert_allclose(np.diag(corners[:3]), ends[:, 1], atol=1e-4)
    np.testing.assert_allclose(np.diag(corners[3:]), ends[:, 0], atol=1e-4)
    assert 0.3 < measure_volume_deg3(envelope) / np.prod(np.degrees(ends[:, 1] - ends[:, 0])) < 0.9


def test_few_attitudes_are_tried(disc, monkeypatch):
    tried = []
    monkeypatch.setattr(envelopes, "try_angles", lambda trial, angles: tried.append(0) or try_angles(trial, angles))
    find_envelope(*disc)
    assert len(tried) < 0.15 * GRID


def test_it_can_be_stopped_at_every_direction_and_tells_how_far_it_is(disc):
    told = []

    def stop_halfway(doing, share):
        told.append((doing, share))
        if share > 0.5:
            raise Cancelled

    with pytest.raises(Cancelled):
        find_envelope(*disc, progress=stop_halfway)
    shares = [share for _, share in told]
    assert {doing for doing, _ in told} == {"range of child"}
    assert shares == sorted(shares)
    assert len(told) == 125  # 258 directions less the six axes, the first half


HELD = AxisLimit(Stop(0.0, "held", None), Stop(0.0, "held", None))


def test_a_joint_that_turns_about_one_axis_has_none(disc):
    trial, limits = disc
    assert find_envelope(trial, (limits[0], HELD, HELD)) is None


@pytest.mark.parametrize("held", [1, 2])
def test_of_two_axes_inside_is_what_every_attitude_by_itself_says(disc, held):
    trial, limits = disc
    limits = [HELD if axis == held else limit for axis, limit in enumerate(limits)]
    envelope = find_envelope(trial, limits)
    attitudes = draw_attitudes(limits, 300)
    free = np.array([try_angles(trial, angles) is None for angles in attitudes])
    inside = np.array([measure_inside(limits, envelope, angles) >= 0 for angles in attitudes])
    assert 0.4 < free.mean() < 0.97
    assert (inside == free).mean() >= 0.96
    assert (inside & ~free).mean() <= 0.015


def test_a_joint_of_the_column_brings_its_envelope(shapes):
    head, tail = shapes.prepare("V1", shapes.make_vertebra(0.5)), shapes.prepare("V2", shapes.make_vertebra(-0.5))
    joint = find_column_joint(tail, head, column_axes(head.centre, tail.centre), True, LimitSettings())
    assert joint.envelope is not None
    assert (joint.envelope.shares >= 0).all()
    assert measure_inside(joint.limits, joint.envelope, np.zeros(3)) > 0
