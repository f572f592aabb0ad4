"""Limits of made-up joints that can be worked out by hand (plane geometry)."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import trimesh

from core_calcs.articulation.column import column_axes
from core_calcs.articulation.contact import meet
from core_calcs.articulation.facets import find_facets
from core_calcs.articulation.frames import column_frame
from core_calcs.articulation.limits import find_limits, prepare_trial
from core_calcs.articulation.motions import move_rigidly
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.spatial.rotations import joint_rotation
from core_calcs.spatial.transforms import make_transform

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


def test_the_gap_ends_lateral_bending_where_the_rim_of_the_facets_has_come_apart(sectors):
    """A point at distance x along the column opens by x sin θ - .12 (1 - cos θ); the farthest twentieth counts."""
    settings = replace(LOOSE, gap_share_s=0.2)
    limits = find_limits(*sectors, headward_frame(), SENSES, settings)
    opening = limits[1].high  # to the left: the child's facet, left of the parent's, goes off
    share = (np.arange(400) + 0.5) / 400
    radius = np.sqrt(0.8**2 + share * (1.2**2 - 0.8**2))  # even over the area of a ring sector
    x = np.outer(radius, np.cos((2 * share - 1) * np.radians(20)))
    rim = np.percentile(x, 95)
    theta = np.radians(np.arange(0, 40, 0.01))
    expected = np.degrees(theta[np.argmax(rim * np.sin(theta) - 0.12 * (1 - np.cos(theta)) > 0.2)])
    assert opening.reason == "gap"
    assert np.degrees(opening.angle_rad) == pytest.approx(expected, abs=0.5)
    assert opening.place_m[0] == pytest.approx(rim * np.cos(opening.angle_rad), abs=0.1)  # at the rim


@pytest.fixture(scope="module")
def plates(shapes):
    """End plates of radius .4 that stand .1 apart about the origin, of cylinders .3 long."""

    def prepare(name, sign):
        cylinder = trimesh.creation.cylinder(radius=0.4, height=0.3, sections=96)
        cylinder.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, (0, 1, 0)))
        cylinder.apply_translation((sign * 0.2, 0, 0))
        return shapes.prepare(name, shapes.from_trimesh(cylinder), size=1.0)

    parent, child = prepare("parent", -1), prepare("child", 1)
    facets = (
        shapes.pick_patch("centrum", parent, lambda p, n: n[:, 0] > 0.9),
        shapes.pick_patch("centrum", child, lambda p, n: n[:, 0] < -0.9),
    )
    return parent, child, facets


RIM = 0.4 * np.sqrt(0.95)
"""A twentieth of a round plate's area lies farther out."""


def test_a_disc_ends_axial_turn_where_its_rim_is_pulled_too_far_aside(plates):
    """Points at radius r move aside by the chord 2 r sin θ/2, whatever the plates' distance along the column."""
    *partners, facets = plates
    limits = find_limits(*partners, (facets,), headward_frame(), SENSES, replace(LOOSE, gap_share_s=0.15))
    expected = np.degrees(2 * np.arcsin(0.15 / 2 / RIM))
    for stop in (limits[2].low, limits[2].high):
        assert stop.reason == "gap"
        assert abs(np.degrees(stop.angle_rad)) == pytest.approx(expected, abs=0.5)
        assert np.hypot(*stop.place_m[1:]) == pytest.approx(RIM, abs=0.02)


def test_a_disc_ends_bending_where_one_side_opens_though_the_other_closes(plates):
    """The mean of the gap hardly changes; the open side's rim stands out by r sin θ and half the gap's sine aside."""
    *partners, facets = plates
    settings = replace(LOOSE, gap_share_s=0.1, contact_share_s=0.2)  # the closing side may run in
    limits = find_limits(*partners, (facets,), headward_frame(), SENSES, settings)
    for axis in (0, 1):
        for stop in (limits[axis].low, limits[axis].high):
            assert stop.reason == "gap"
            # of all points: those r sin θ outwards, y = r along the bending direction, a twentieth beyond the 95th
            theta = abs(stop.angle_rad)
            share = (np.arange(300) + 0.5) / 300
            y = np.outer(0.4 * np.sqrt(share), np.cos(2 * np.pi * share))
            aside = 0.05 * np.sin(theta) + y * (1 - np.cos(theta))
            outwards = np.maximum(y * np.sin(theta) - 0.05 * (1 - np.cos(theta)), 0)
            assert np.percentile(np.hypot(outwards, aside), 95) == pytest.approx(0.1, abs=0.004)


def test_facets_that_slide_are_not_held_by_a_disc(plates):
    """The same surfaces as zygapophyses slide round freely: only what comes apart counts."""
    *partners, (on_parent, on_child) = plates
    sliding = replace(on_parent, kind="left zygapophysis"), replace(on_child, kind="left zygapophysis")
    settings = replace(LOOSE, gap_share_s=0.15, search_rad=np.pi / 3)
    limits = find_limits(*partners, (sliding,), headward_frame(), SENSES, settings)
    assert limits[2].high.reason == "search range"


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
def column_joint(shapes):
    """Two made-up vertebrae with the facets found on them, and their frame: what `find_limits` needs."""
    head, tail = shapes.prepare("V1", shapes.make_vertebra(0.5)), shapes.prepare("V2", shapes.make_vertebra(-0.5))
    axes = column_axes(head.centre, tail.centre)
    pairs = tuple(pair[::-1] for pair in find_facets(head, tail, axes).pairs)
    frame = column_frame(*pairs[0], axes, True, min(head.size, tail.size))
    return tail, head, pairs, frame.X_WJ, frame.senses


def reach(joint, settings):
    limits = find_limits(*joint, settings)
    return np.array([[-limit.low.angle_rad, limit.high.angle_rad] for limit in limits])


TIGHTER = {
    "overlap_share": (0.3, 0.5, 0.8),
    "contact_share_s": (0.04, 0.02, 0.005),
    "slide_share_s": (0.05, 0.02, 0.0),
    "gap_share_s": (0.2, 0.02, 0.002),
    "search_rad": (0.7, 0.2, 0.05),
}


@pytest.mark.parametrize("name", TIGHTER)
def test_a_tighter_setting_narrows_and_never_widens(column_joint, name):
    base = LimitSettings(overlap_share=0.3, contact_share_s=0.04, slide_share_s=0.03, gap_share_s=0.2)
    reaches = [reach(column_joint, replace(base, **{name: value})) for value in TIGHTER[name]]
    for wide, narrow in pairwise(reaches):
        assert (narrow <= wide).all()
    assert (reaches[-1] < reaches[0] - np.radians(0.1)).any()


def test_no_set_of_settings_is_wider_than_a_looser_one(column_joint):
    """Eight random pairs of settings, one tighter in all five at once or in one; never wider at all."""
    rng = np.random.default_rng(5)
    for chain in range(8):
        loose = LimitSettings(
            overlap_share=float(rng.uniform(0.1, 0.6)),
            contact_share_s=float(rng.uniform(0.01, 0.05)),
            slide_share_s=float(rng.uniform(0.01, 0.06)),
            gap_share_s=float(rng.uniform(0.05, 0.25)),
            search_rad=float(rng.uniform(0.2, 0.7)),
        )
        tight = tighten(loose, rng, alone=chain % 2 == 0)
        assert (reach(column_joint, tight) <= reach(column_joint, loose)).all(), (loose, tight)


def tighten(settings: LimitSettings, rng: np.random.Generator, alone: bool) -> LimitSettings:
    """Every setting tighter by up to all of it, or one of them alone."""
    shares = rng.uniform(0, 1, 5) if not alone else np.where(np.arange(5) == rng.integers(5), rng.uniform(0, 1, 5), 0.0)
    return LimitSettings(
        overlap_share=settings.overlap_share + float(shares[0]) * (0.95 - settings.overlap_share),
        contact_share_s=settings.contact_share_s * (1 - float(shares[1])),
        slide_share_s=settings.slide_share_s * (1 - float(shares[2])),
        gap_share_s=settings.gap_share_s * (1 - float(shares[3])),
        search_rad=settings.search_rad * (1 - 0.8 * float(shares[4])),
    )


def test_a_mirrored_joint_bends_as_far_to_either_side(column_joint):
    sides = reach(column_joint, LimitSettings())[1:]
    assert np.degrees(np.abs(sides[:, 0] - sides[:, 1])).max() < 1.0


def test_far_from_the_origin_the_same_is_met(plates):
    """Scans kept in the co-ordinates of a survey, thousands of kilometres off: single precision alone loses them."""
    parent, child = plates[0], plates[1]
    far = make_transform(np.eye(3), (4.0e5, -5.0e6, 300.0))
    away = move_rigidly(parent, far), move_rigidly(child, far)
    frame, settings = headward_frame(), LimitSettings()
    here = prepare_trial(parent, child, (), frame, SENSES, settings).contact
    there = prepare_trial(*away, (), far @ frame, SENSES, settings).contact
    met = 0
    for angles in np.random.default_rng(8).uniform(-0.4, 0.4, (60, 3)):
        turn = np.eye(4)
        turn[:3, :3] = joint_rotation(angles, SENSES)
        first = [
            [depth.excess for depth in meet(contact, X @ turn @ np.linalg.inv(X)).first]
            for contact, X in ((here, frame), (there, far @ frame))
        ]
        assert first[1] == pytest.approx(first[0], abs=1e-4)
        met += max(first[0]) > 0.01
    assert met > 10


def test_points_left_aside_for_a_small_turn_meet_nothing(plates):
    """Each attitude tried with every point, and with those that the turn can bring to the partner."""
    parent, child = plates[0], plates[1]
    frame, settings = headward_frame(), LimitSettings()
    trial = prepare_trial(parent, child, (), frame, SENSES, settings)
    probes = [replace(probe, chords=np.zeros(len(probe.chords))) for probe in trial.contact.probes]
    contact = replace(trial.contact, probes=(probes[0], probes[1]))
    met, left_aside = 0, 0
    for angles in np.random.default_rng(7).uniform(-0.5, 0.5, (200, 3)):
        turn = np.eye(4)
        turn[:3, :3] = joint_rotation(angles, SENSES)
        X = frame @ turn @ np.linalg.inv(frame)
        quick, whole = meet(trial.contact, X), meet(contact, X)
        assert [depth.excess for depth in quick.first] == pytest.approx([depth.excess for depth in whole.first])
        met += any(depth.excess > 0 for depth in whole.first)
        chord = np.sqrt(3 - np.trace(X[:3, :3]))
        left_aside += sum(int((probe.chords > chord).sum()) for probe in trial.contact.probes)
    assert 20 < met < 180
    assert left_aside > 10_000
