"""Made-up balls and rollers, uneven, sheared by 10° any way or left as they are: whether that is told."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.balls import fit_ball
from core_calcs.articulation.deformations import check_roundness, find_egg, fit_deformed_roller
from core_calcs.articulation.revolutions import fit_revolution
from core_calcs.articulation.saddles import fit_saddle
from core_calcs.articulation.slippage import find_bends
from tests.made_up_facets import HINGES, Z, cap, degrees_between, off_axis, ring_inside, starts, turned

SEEDS = range(6)
CENTRE, AXIS_DEG = 0.02, 1.0


def roughen(points, normals, rng):
    """Waves and scatter, each .3 % of the radius high."""
    waves = rng.normal(size=(9, 3))
    waves *= (2 * np.pi / rng.uniform(0.4, 1.2, 9) / np.linalg.norm(waves, axis=1))[:, None]
    height = 0.003 * np.sqrt(2 / 9) * np.sin(points @ waves.T + rng.uniform(0, 2 * np.pi, 9)).sum(axis=1)
    return points + normals * (height + rng.normal(scale=0.003, size=len(points)))[:, None]


def shear(rng):
    """By 10°: planes at right angles to one direction slide along another."""
    across = rng.normal(size=3)
    across /= np.linalg.norm(across)
    along = np.cross(across, rng.normal(size=3))
    return np.eye(3) + np.tan(np.radians(10)) * np.outer(along / np.linalg.norm(along), across)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_sheared_ball_is_told_and_its_middle_found(seed):
    rng = np.random.default_rng(seed)
    D = shear(rng)
    points, normals = cap(115)
    made = roughen(points, normals, rng) @ D.T
    egg = find_egg(made, fit_ball(made, normals))
    assert np.linalg.norm(egg.centre) < CENTRE
    assert egg.half_axes == pytest.approx(np.linalg.svd(D)[1], abs=0.02)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("half_deg", [60, 90, 115])
def test_an_uneven_ball_is_a_ball(half_deg, seed):
    points, normals = cap(half_deg)
    made = roughen(points, normals, np.random.default_rng(seed))
    assert check_roundness(fit_ball(made, normals), [made]) == ()


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("kind", ["wide cylinder", "barrel", "pulley"])
def test_a_sheared_roller_that_reaches_far_round_is_told(kind, seed):
    """By 230°. What reaches round by 120° alone is as near to round about another axis as bones are uneven."""
    rng = np.random.default_rng(seed)
    D = shear(rng)
    radius_of, slope_of, _, width = HINGES[kind]
    points, normals = turned(radius_of, slope_of, 230, width)
    made = roughen(points, normals, rng) @ D.T
    looks = normals @ np.linalg.inv(D)
    looks /= np.linalg.norm(looks, axis=1)[:, None]
    fit = fit_revolution([(made, looks)], starts(made, looks))
    true = D @ Z / np.linalg.norm(D @ Z)
    right = off_axis(fit.centre, np.zeros(3), true) < CENTRE and degrees_between(fit.axes[0], true) < AXIS_DEG
    assert right or "deformed" in "".join(check_roundness(fit, [made]))


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("kind", HINGES)
def test_an_uneven_roller_is_round(kind, seed):
    points, normals = turned(*HINGES[kind])
    made = roughen(points, normals, np.random.default_rng(seed))
    assert check_roundness(fit_revolution([(made, normals)], starts(made, normals)), [made]) == ()


def test_a_roller_stretched_across_has_its_axis_again():
    points, normals = turned(*HINGES["wide cylinder"])
    made = points * [1.08, 0.93, 1]
    fit = fit_revolution([(made, normals)], starts(made, normals))
    roller = fit_deformed_roller([made], fit)
    assert off_axis(fit.centre, np.zeros(3), Z) > 0.03
    assert off_axis(roller.place, np.zeros(3), roller.along) < 0.01
    assert degrees_between(roller.along, Z) < 0.1
    assert roller.residual < 0.1 * fit.residual


def test_of_a_saddle_nothing_is_said():
    points, normals = ring_inside(2.0, 90, 90)
    assert check_roundness(fit_saddle(points, normals, find_bends(points, normals)), [points]) == ()
