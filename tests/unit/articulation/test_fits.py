"""Surfaces fitted to made-up patches whose centre and axes are known: uneven as scans are, turned and moved at random.

The radius is 1 throughout; a patch holds 1 500 points, each off by .5 % at random and by waves of .2 % together.
"""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.balls import fit_ball
from core_calcs.articulation.fits import find_arc, find_mean_direction
from core_calcs.articulation.revolutions import fit_revolution
from core_calcs.articulation.saddles import fit_saddle
from core_calcs.articulation.slippage import find_bends, measure_slippage
from tests.made_up_facets import HINGES, Z, cap, degrees_between, off_axis, ring_inside, spread, starts, turned

SEEDS = range(6)
CENTRE, AXIS_DEG = 0.02, 1.0
"""What is asked of made-up balls, hinges and saddles."""


def place(points, normals, seed):
    """Roughened, turned and moved; returns also the turn (3, 3) and the move (3,)."""
    rng = np.random.default_rng(seed)
    waves = rng.normal(size=(9, 3))
    waves *= (2 * np.pi / rng.uniform(0.4, 1.2, 9) / np.linalg.norm(waves, axis=1))[:, None]
    phase = points @ waves.T + rng.uniform(0, 2 * np.pi, 9)
    height = 0.002 * np.sqrt(2 / 9)
    slope = height * np.cos(phase) @ waves
    tilted = normals - slope + np.einsum("ij,ij->i", slope, normals)[:, None] * normals
    tilted = tilted + rng.normal(scale=0.05, size=tilted.shape)
    off = height * np.sin(phase).sum(axis=1) + rng.normal(scale=0.005, size=len(points))
    R = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    R, t = R * np.sign(np.linalg.det(R)), rng.normal(size=3)
    rough = points + normals * off[:, None]
    return rough @ R.T + t, tilted / np.linalg.norm(tilted, axis=1)[:, None] @ R.T, R, t


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("half_deg", [60, 90, 120])
def test_a_ball_has_its_centre(half_deg, seed):
    points, normals, _, t = place(*cap(half_deg), seed)
    fit = fit_ball(points, normals)
    assert np.linalg.norm(fit.centre - t) < CENTRE
    assert fit.radius == pytest.approx(1, abs=CENTRE)
    assert fit.convex
    assert np.degrees(fit.arcs[0]) == pytest.approx(2 * half_deg, rel=0.05)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("kind", HINGES)
def test_a_hinge_has_its_axis(kind, seed):
    points, normals, R, t = place(*turned(*HINGES[kind]), seed)
    fit = fit_revolution([(points, normals)], starts(points, normals))
    assert degrees_between(fit.axes[0], R[:, 2]) < AXIS_DEG
    assert off_axis(fit.centre, t, R[:, 2]) < CENTRE
    assert fit.convex


@pytest.mark.parametrize("seed", SEEDS)
def test_two_condyles_share_their_axis(seed):
    made = []
    for side in (-1, 1):
        points, normals = turned(lambda h: np.sqrt(1 - h**2), lambda h: -h / np.sqrt(1 - h**2), 130, 0.8)
        made.append((points + side * 0.8 * Z, normals))
    points, normals, R, t = place(*(np.concatenate([piece[k] for piece in made]) for k in (0, 1)), seed)
    pieces = [(points[:1500], normals[:1500]), (points[1500:], normals[1500:])]
    fit = fit_revolution(pieces, starts(points, normals))
    assert degrees_between(fit.axes[0], R[:, 2]) < AXIS_DEG
    assert off_axis(fit.centre, t, R[:, 2]) < CENTRE


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(("big", "arc_deg", "bend_deg"), [(2.0, 100, 100), (2.4, 90, 90)])
def test_a_saddle_has_both_axes(big, arc_deg, bend_deg, seed):
    points, normals, R, t = place(*ring_inside(big, arc_deg, bend_deg), seed)
    fit = fit_saddle(points, normals, find_bends(points, normals))
    truth = [(R[:, 2], t), (R[:, 1], t + big * R[:, 0])]
    if degrees_between(fit.axes[0], R[:, 2]) > 45:
        truth = truth[::-1]
    for axis, at, (true_axis, true_place) in zip(fit.axes, fit.places, truth, strict=True):
        assert degrees_between(axis, true_axis) < AXIS_DEG
        assert off_axis(at, true_place, true_axis) < CENTRE


@pytest.mark.parametrize("seed", SEEDS)
def test_the_uncertainty_bounds_what_a_fit_is_off(seed):
    """A small cap of a ball: its centre is off by many hundredths, and the uncertainty says so."""
    points, normals, _, t = place(*cap(25), seed)
    fit = fit_ball(points, normals)
    assert 0.02 < fit.centre_uncertainty < 0.3
    assert np.linalg.norm(fit.centre - t) < 3 * fit.centre_uncertainty


def test_a_plane_is_no_ball_and_no_saddle():
    u, v = spread(500)
    points, normals = np.column_stack([u, v, 0 * u]), np.tile(Z, (500, 1))
    fit = fit_ball(points, normals)
    assert fit is None or fit.radius > 10
    assert find_bends(points, normals) is None or fit_saddle(points, normals, find_bends(points, normals)) is None


def test_a_ball_is_no_saddle():
    points, normals = cap(50)
    assert fit_saddle(points, normals, find_bends(points, normals)) is None


def test_too_few_points_are_no_surface():
    points, normals = (part[:30] for part in cap(60))
    assert fit_ball(points, normals) is None
    assert fit_revolution([(points, normals)], starts(points, normals)) is None


def test_outliers_do_not_decide():
    """A tenth of the points on a spur: the centre stays."""
    points, normals = cap(90)
    spur = points.copy()
    spur[:150] = np.array([0.9, 0, 0]) + 0.6 * np.random.default_rng(1).uniform(size=(150, 3))
    assert np.linalg.norm(fit_ball(spur, normals).centre) < CENTRE


def test_slippage_tells_a_ball_a_hinge_and_what_holds_fast():
    assert measure_slippage(*cap(60)).openings.max() < 1e-6
    free, held, _ = measure_slippage(*turned(*HINGES["wide cylinder"])).openings
    assert free < 1e-6
    assert held > 0.3
    rng = np.random.default_rng(5)
    points = rng.normal(size=(500, 3))
    normals = rng.normal(size=(500, 3))
    assert measure_slippage(points, normals / np.linalg.norm(normals, axis=1)[:, None]).openings[0] > 0.3


def test_arcs_are_measured_over_the_middle_of_the_reach():
    angles = np.radians(np.linspace(-30, 60, 500)) + np.pi  # across the jump of the arc tangent
    out = np.column_stack([np.cos(angles), np.sin(angles), 0 * angles])
    assert np.degrees(find_arc(out, Z)) == pytest.approx(90, abs=1.5)
    middle = np.radians(15) + np.pi
    both = find_mean_direction(out, out[::5])
    assert both == pytest.approx([np.cos(middle), np.sin(middle), 0], abs=0.02)
