"""The coupled range: closed forms of its volume and of how far inside an attitude lies."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import trimesh

from core_calcs.skeleton.directions import list_directions, list_ring
from core_calcs.skeleton.envelope import (
    correct_angles,
    find_angles,
    find_corners,
    lie_inside,
    measure_all_inside,
    measure_inside,
    measure_volume_deg3,
)
from core_calcs.skeleton.joint import AxisLimit, Envelope, Stop
from core_calcs.spatial.rotations import joint_angles, joint_rotation


def make_limits(ends):
    return tuple(AxisLimit(Stop(low, "gap", None), Stop(high, "gap", None)) for low, high in ends)


def make_ellipsoid(*half, share=1.0):
    return Envelope(np.array([(-h, h) for h in half]), np.full(258, share))


def make_random(seed):
    rng = np.random.default_rng(seed)
    scale = rng.uniform(0.1, 0.6, (3, 2)) * (-1, 1)
    return Envelope(scale, rng.uniform(0.6, 1.5, 258)), rng


def test_directions_cover_the_sphere():
    sphere = list_directions()
    assert sphere.directions.shape == (258, 3)
    assert sphere.triangles.shape == (512, 3)
    np.testing.assert_allclose(np.linalg.norm(sphere.directions, axis=1), 1)
    assert len(np.unique(sphere.directions.round(9), axis=0)) == 258
    edges = {tuple(sorted(pair)) for t in sphere.triangles.tolist() for pair in itertools.combinations(t, 2)}
    assert len(sphere.directions) - len(edges) + len(sphere.triangles) == 2  # Euler: one closed surface
    assert (sphere.parents[6:] < np.arange(6, 258)[:, None]).all()


def test_corrected_space_goes_back_to_angles():
    angles = np.random.default_rng(3).uniform(-1.4, 1.4, (50, 3))
    np.testing.assert_allclose(find_angles(correct_angles(angles)), angles, atol=1e-12)


def test_corrected_volume_is_the_share_of_all_rotations_whatever_the_axes():
    """Even random rotations fill the corrected space evenly: 8 π² cos-corrected, all of it 2π · 2 · 2π rad³."""
    rng = np.random.default_rng(4)
    q = rng.normal(size=(200_000, 4))
    w, x, y, z = (q / np.linalg.norm(q, axis=1)[:, None]).T
    R = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    ).transpose(2, 0, 1)
    points = correct_angles(joint_angles(R))
    whole = 8 * np.pi**2
    for centre in ((0.0, 0.0, 0.0), (0.2, 1.0, -1.0), (-0.5, -0.9, 2.0)):
        inside = (np.abs(points - centre) < 0.3).all(axis=1)
        assert inside.mean() == pytest.approx(0.6**3 / whole, rel=0.06)


def test_volume_of_an_ellipsoid():
    volume = measure_volume_deg3(make_ellipsoid(*np.radians([30, 20, 10])))
    assert volume == pytest.approx(4 / 3 * np.pi * 30 * 20 * 10, rel=0.05)  # a body of 512 flat faces lies inside it
    assert volume < 4 / 3 * np.pi * 30 * 20 * 10


def test_an_axis_ends_where_its_limit_is():
    envelope = make_ellipsoid(0.3, 0.2, 0.1)
    for axis, half in enumerate((0.3, 0.2, 0.1)):
        for sign in (1, -1):
            angles = np.zeros(3)
            angles[axis] = sign * half
            assert lie_inside(envelope, [angles * 0.999])[0]
            assert not lie_inside(envelope, [angles * 1.001])[0]


@pytest.mark.parametrize("seed", range(4))
def test_the_sign_is_right_everywhere_and_the_boundary_is_zero(seed):
    envelope, rng = make_random(seed)
    wide = make_limits([(-2.0, 2.0)] * 3)
    corners = find_corners(envelope)[list_directions().triangles]
    weights = rng.dirichlet((1, 1, 1), 512)
    on = np.einsum("mk,mki->mi", weights, corners)
    for point in on[::8]:
        assert measure_inside(wide, envelope, find_angles(point)) == pytest.approx(0, abs=1e-9)
        assert measure_inside(wide, envelope, find_angles(0.97 * point)) > 0
        assert measure_inside(wide, envelope, find_angles(1.03 * point)) < 0
    assert measure_inside(wide, envelope, np.zeros(3)) > 0


@pytest.mark.parametrize("seed", range(3))
def test_it_changes_by_no_more_than_the_attitude_does(seed):
    """And is the distance to the nearest of very many points of the boundary."""
    envelope, rng = make_random(seed)
    wide = make_limits([(-3.0, 3.0)] * 3)
    corners = find_corners(envelope)[list_directions().triangles]
    weights = rng.dirichlet((1, 1, 1), (512, 400))
    on = np.einsum("mnk,mki->mni", weights, corners).reshape(-1, 3)
    points = rng.uniform(-0.8, 0.8, (40, 3))
    measured = np.array([measure_inside(wide, envelope, find_angles(point)) for point in points])
    nearest = np.array([np.linalg.norm(on - point, axis=1).min() for point in points])
    assert (np.abs(measured) <= nearest + 1e-12).all()
    np.testing.assert_allclose(np.abs(measured), nearest, atol=0.02)
    for i, j in itertools.combinations(range(40), 2):
        assert abs(measured[i] - measured[j]) <= np.linalg.norm(points[i] - points[j]) + 1e-9


HELD = AxisLimit(Stop(0.0, "held", None), Stop(0.0, "held", None))


@pytest.mark.parametrize("held", [1, 2])
def test_of_two_axes_it_is_a_line_in_their_plane(held):
    """An ellipse: inside and outside as its equation says; the distance is that to very many points of its chords."""
    half = np.array([0.5, 0.3, 0.3])
    half[held] = 0.0
    envelope, plane = make_ellipsoid(*half), [axis for axis in range(3) if axis != held]
    limits = list(make_limits([(-2.0, 2.0)] * 3))
    limits[held] = HELD
    ring = find_corners(envelope)[list_ring(held)]
    assert ring.shape == (32, 3)
    share = (np.arange(400) / 400)[:, None, None]
    on = (ring + share * (np.roll(ring, -1, axis=0) - ring)).reshape(-1, 3)
    rng = np.random.default_rng(9)
    for _ in range(100):
        point = np.zeros(3)
        point[plane] = rng.uniform(-0.7, 0.7, 2)
        measured = measure_inside(limits, envelope, find_angles(point))
        assert abs(measured) == pytest.approx(np.linalg.norm(on - point, axis=1).min(), abs=1e-5)
        use = np.sum((point[plane] / half[plane]) ** 2)
        if abs(use - 1) > 0.02:  # the chords lie inside the ellipse by less
            assert (measured > 0) == (use < 1)
    off = np.zeros(3)
    off[held] = 0.01
    assert measure_inside(limits, envelope, off) == pytest.approx(-0.01)  # out of the plane


BOX = [(-0.2, 0.4), (-0.3, 0.3), (-0.1, 0.1)]


@pytest.mark.parametrize(
    ("ends", "angles", "expected"),
    [
        (BOX, (0, 0, 0), 0.1),
        (BOX, (0.35, 0, 0), 0.05),
        (BOX, (0.45, 0, 0), -0.05),
        (BOX, (0.43, 0.34, 0), -0.05),
        (BOX, (0.4, 0, 0), 0.0),
        ([(-0.2, 0.4), (0, 0), (0, 0)], (0.3, 0, 0), 0.1),  # a hinge: held axes bound nothing from inside
        ([(-0.2, 0.4), (0, 0), (0, 0)], (-0.25, 0, 0), -0.05),
        ([(-0.2, 0.4), (0, 0), (0, 0)], (0.3, 0.02, 0), -0.02),
        ([(-0.2, 0.4), (0, 0), (0, 0)], (0.3, 5e-5, 0), 0.1),  # what a rig's constraint leaves
        ([(0, 0)] * 3, (0, 0, 0), 0.0),
    ],
)
def test_limits_alone_make_a_box(ends, angles, expected):
    assert measure_inside(make_limits(ends), None, np.array(angles, float)) == pytest.approx(expected, abs=1e-12)


def test_the_nearer_of_envelope_and_box_counts():
    angles = np.array([0.19, 0.0, 0.0])
    wide, narrow = make_ellipsoid(0.5, 0.5, 0.5), make_ellipsoid(0.1, 0.1, 0.1)
    limits = make_limits([(-0.2, 0.2)] * 3)
    assert measure_inside(limits, wide, angles) == pytest.approx(0.01)
    assert measure_inside(limits, narrow, angles) == pytest.approx(-0.09)


def test_a_joint_stopped_at_once_has_an_outside_all_the_same():
    flat = Envelope(np.array([(-0.3, 0.3), (-0.2, 0.2), (-0.1, 0.1)]), np.zeros(258))
    assert measure_inside(make_limits([(-1.0, 1.0)] * 3), flat, np.array([0.1, 0, 0])) == pytest.approx(-0.1, abs=1e-3)


def test_the_measure_is_about_rotations():
    """Along one axis it is the angle itself by which the joint must turn."""
    envelope = make_ellipsoid(0.5, 0.5, 0.5)
    wide = make_limits([(-2.0, 2.0)] * 3)
    outside = measure_inside(wide, envelope, np.array([0.0, 0.7, 0.0]))
    R = joint_rotation([0, 0.5, 0]).T @ joint_rotation([0, 0.7, 0])
    assert -outside == pytest.approx(np.arccos((np.trace(R) - 1) / 2), abs=1e-9)


def test_joints_measured_at_once_are_as_far_inside_as_each_by_hand() -> None:
    rng = np.random.default_rng(4)
    ends = np.sort(rng.uniform(-1, 1, (40, 3, 2)), axis=-1)
    ends[::3] = [-0.8, 0.9]
    shares = np.full(len(list_directions().directions), 0.9)
    envelopes = [Envelope(own, shares) if i % 3 == 0 else None for i, own in enumerate(ends)]
    angles = rng.uniform(-1, 1, (40, 3))
    found = measure_all_inside(ends[:, :, 0], ends[:, :, 1], envelopes, angles)
    for own, inside, envelope, angle in zip(ends, found, envelopes, angles, strict=True):
        room = [min(a - low, high - a) for (low, high), a in zip(own, angle, strict=True)]
        beyond = [r for r in room if r < 0]
        box = -math.hypot(*beyond) if beyond else min(room)
        if envelope is None:
            assert inside == pytest.approx(box, abs=1e-12)
        else:
            assert inside <= box + 1e-12
            assert (inside >= 0) == bool(lie_inside(envelope, angle)[0])


@pytest.mark.parametrize("seed", range(3))
def test_the_nearest_place_is_that_of_a_general_library(seed: int) -> None:
    """trimesh's closest points on the same triangles, of places inside, outside and close to the boundary."""
    envelope, rng = make_random(seed)
    corners, triangles = find_corners(envelope), list_directions().triangles
    mesh = trimesh.Trimesh(corners, triangles, process=False)
    points = corners[rng.integers(258, size=60)] * rng.choice([0.3, 0.9, 1 - 1e-7, 1 + 1e-7, 1.2], size=(60, 1))
    points[30:] += rng.normal(size=(30, 3)) * 0.02
    _, apart, _ = trimesh.proximity.closest_point_naive(mesh, points)
    angles = find_angles(points)
    free = [(-9.0, 9.0)] * 3
    low, high = np.array([free] * 60).transpose(2, 0, 1)
    found = np.array(measure_all_inside(low, high, [envelope] * 60, angles))
    np.testing.assert_allclose(np.abs(found), apart, atol=1e-12)
    np.testing.assert_array_equal(found > 0, lie_inside(envelope, angles))
