"""Limits of made-up joints that can be worked out by hand (plane geometry)."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import trimesh

from core_calcs.articulation.column import column_axes
from core_calcs.articulation.column_joint import find_column_joint
from core_calcs.articulation.limits import find_limits
from core_calcs.skeleton.joint import LimitSettings

SENSES = (1, -1, 1)
LOOSE = LimitSettings(overlap_share=0.0, contact_share_s=0.0, slide_share_s=0.0, gap_share_s=100.0)


def headward_frame():
    """Of a child towards the head (+x): flexion axis to the left, long axis +x, z ventral; centre at the origin."""
    return np.array([[0.0, 1, 0, 0], [1, 0, 0, 0], [0, 0, -1, 0], [0, 0, 0, 1]])


@pytest.fixture(scope="module")
def sectors(shapes):
    """Two sectors of 40° that slide over each other about the flexion axis, .02 apart, far from anything else."""
    half = np.radians(20)
    turn = np.array([[0.0, 1, 0], [1, 0, 0], [0, 0, 1]])  # from about x to about y

    def sector(low, high):
        surface = shapes.make_sector(0.8, 1.2, -half, half, low, high)
        return type(surface)(surface.vertices @ turn.T, surface.faces[:, ::-1])

    parent = shapes.prepare("parent", sector(0.0, 0.1), size=1.0)
    child = shapes.prepare("child", sector(0.12, 0.22), size=1.0)
    pair = (
        shapes.pick_patch("left zygapophysis", parent, lambda p, n: n[:, 1] > 0.9),
        shapes.pick_patch("left zygapophysis", child, lambda p, n: n[:, 1] < -0.9),
    )
    return parent, child, (pair,)


@pytest.mark.parametrize("share", [0.5, 0.7, 0.9])
def test_overlap_ends_flexion_where_the_sectors_have_slid_off(sectors, share):
    limits = find_limits(*sectors, headward_frame(), SENSES, replace(LOOSE, overlap_share=share))
    expected = np.degrees(np.radians(40) * (1 - share))
    for stop in (limits[0].low, limits[0].high):
        assert stop.reason == "facet overlap"
        assert abs(np.degrees(stop.angle_rad)) == pytest.approx(expected, abs=1.0)
        assert stop.place_m is not None


def test_the_gap_ends_lateral_bending_where_the_facets_have_come_apart(sectors):
    """Facets at radius 1 on average open by about sin θ · mean distance from the axis, here 1.0 (2/3 (r2³-r1³)/...)."""
    settings = replace(LOOSE, gap_share_s=0.2)
    limits = find_limits(*sectors, headward_frame(), SENSES, settings)
    opening = limits[1].high  # to the left: the child's facet, left of the parent's, goes off
    half = np.radians(20)
    mean_radius = 2 / 3 * (1.2**3 - 0.8**3) / (1.2**2 - 0.8**2) * np.sin(half) / half  # centroid of a ring sector
    # y of a point at distance x along the column after turning by θ: x sin θ + .12 cos θ; before: .12
    theta = np.radians(np.arange(0, 40, 0.01))
    expected = np.degrees(theta[np.argmax(mean_radius * np.sin(theta) + 0.12 * np.cos(theta) - 0.12 > 0.2)])
    assert opening.reason == "gap"
    assert np.degrees(opening.angle_rad) == pytest.approx(expected, abs=1.0)


@pytest.fixture(scope="module")
def ball_and_plate(shapes):
    """A child that is a ball of radius .1 at (1, 0, 0), between plates of the parent at z = ±.5."""
    ball = trimesh.creation.icosphere(subdivisions=4, radius=0.1)
    ball.apply_translation((1, 0, 0))
    plates = shapes.join(*(shapes.make_box((1.5, 1.5, 0.1), (1, 0, z)) for z in (0.55, -0.55)))
    return shapes.prepare("parent", plates, size=1.0), shapes.prepare("child", shapes.from_trimesh(ball), size=1.0)


@pytest.mark.parametrize(("allowance", "slide"), [(0.0, 0.0), (0.02, 0.0), (0.02, 0.03)])
def test_contact_stops_a_ball_between_plates(ball_and_plate, allowance, slide):
    """The ball's centre rises by sin θ: it stops at .5 - .1 plus the allowance and the slide."""
    settings = replace(LOOSE, contact_share_s=allowance, slide_share_s=slide)
    limits = find_limits(*ball_and_plate, (), headward_frame(), SENSES, settings)
    expected = np.degrees(np.arcsin(0.4 + allowance + slide))
    for stop in (limits[0].low, limits[0].high):
        assert stop.reason == "bone contact"
        assert abs(np.degrees(stop.angle_rad)) == pytest.approx(expected, abs=0.5)
        assert abs(stop.place_m[2]) == pytest.approx(0.5, abs=0.06)
    assert limits[0].high.place_m[2] < 0 < limits[0].low.place_m[2]  # flexion runs into the ventral plate


def test_nothing_in_the_way_is_said_so(ball_and_plate):
    limits = find_limits(*ball_and_plate, (), headward_frame(), SENSES, replace(LOOSE, search_rad=0.3))
    assert limits[0].high.reason == "search range"
    assert limits[0].high.angle_rad == pytest.approx(0.3)
    assert limits[0].high.place_m is None


def test_overlap_at_neutral_is_forgiven_where_it_is(shapes):
    parent = shapes.prepare("parent", shapes.make_box((1, 1, 1), (-0.5, 0, 0)), size=1.0)
    child = shapes.prepare("child", shapes.make_box((1, 1, 1), (0.46, 0, 0)), size=1.0)  # .04 inside the parent
    limits = find_limits(parent, child, (), headward_frame(), SENSES, replace(LOOSE, contact_share_s=0.02))
    # half the width times sin θ may run in by the allowance: .02 / .5
    assert 1.0 < np.degrees(limits[0].high.angle_rad) < 4.0
    # about the long axis the overlap stays the same slab
    assert np.degrees(limits[2].high.angle_rad) > 20.0


@pytest.fixture(scope="module")
def column_pair(shapes):
    return shapes.prepare("V1", shapes.make_vertebra(0.5)), shapes.prepare("V2", shapes.make_vertebra(-0.5))


def reach(pair, settings):
    head, tail = pair
    joint = find_column_joint(tail, head, column_axes(head.centre, tail.centre), True, settings)
    assert joint.limits is not None
    return np.array([[-limit.low.angle_rad, limit.high.angle_rad] for limit in joint.limits])


TIGHTER = {
    "overlap_share": (0.3, 0.5, 0.8),
    "contact_share_s": (0.04, 0.02, 0.005),
    "slide_share_s": (0.05, 0.02, 0.0),
    "gap_share_s": (0.2, 0.02, 0.002),
    "search_rad": (0.7, 0.2, 0.05),
}


@pytest.mark.parametrize("name", TIGHTER)
def test_a_tighter_setting_narrows_and_never_widens(column_pair, name):
    base = LimitSettings(overlap_share=0.3, contact_share_s=0.04, slide_share_s=0.03, gap_share_s=0.2)
    reaches = [reach(column_pair, replace(base, **{name: value})) for value in TIGHTER[name]]
    step = np.radians(2.0) / 32 + 1e-9  # the halvings' resolution
    for wide, narrow in pairwise(reaches):
        assert (narrow <= wide + step).all()
    assert (reaches[-1] < reaches[0] - step).any()


def test_a_mirrored_joint_bends_as_far_to_either_side(column_pair):
    sides = reach(column_pair, LimitSettings())[1:]
    assert np.degrees(np.abs(sides[:, 0] - sides[:, 1])).max() < 1.0
