"""Standard errors of fitted surfaces against what the fits are truly off: made-up facets with waves on them."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from core_calcs.articulation.balls import fit_ball
from core_calcs.articulation.fit_uncertainty import compare_hinges, compare_rival, leave_sectors_out
from core_calcs.articulation.limb_facets import Facing
from core_calcs.articulation.revolutions import fit_revolution
from tests.made_up_facets import HINGES, Z, cap, degrees_between, off_axis, starts, turned

SEEDS = range(20)
HEIGHT, LENGTH = 0.02, 0.8
"""Of the waves, the radius being 1: root mean square, and about how long they are."""


def as_facing(points, normals):
    bone = SimpleNamespace(name="made up", samples=SimpleNamespace(points=points, normals=normals))
    return Facing(bone, (np.arange(len(points)),), 0.0)


def wave(points, normals, seed):
    rng = np.random.default_rng(seed)
    waves = rng.normal(size=(9, 3))
    waves *= (2 * np.pi / (LENGTH * rng.uniform(0.6, 1.6, 9)) / np.linalg.norm(waves, axis=1))[:, None]
    height = HEIGHT * np.sqrt(2 / 9) * np.sin(points @ waves.T + rng.uniform(0, 2 * np.pi, 9)).sum(axis=1)
    return points + normals * height[:, None], normals


def find_uncertainties(points, normals, fit):
    return leave_sectors_out(as_facing(points, normals), (np.arange(len(points)),), fit)


@pytest.mark.parametrize("half_deg", [60, 90, 115])
def test_a_balls_centre_is_off_by_about_its_standard_error(half_deg):
    ratios = []
    for seed in SEEDS:
        points, normals = wave(*cap(half_deg), seed)
        fit = fit_ball(points, normals)
        ratios.append(np.linalg.norm(fit.centre) / find_uncertainties(points, normals, fit)[0])
    assert 0.5 < np.sqrt(np.mean(np.square(ratios))) < 1.5


@pytest.mark.parametrize("kind", ["wide cylinder", "barrel", "pulley"])
def test_a_hinge_is_off_by_about_its_standard_errors(kind):
    places, axes = [], []
    for seed in SEEDS:
        points, normals = wave(*turned(*HINGES[kind]), seed)
        fit = fit_revolution([(points, normals)], starts(points, normals))
        centre_uncertainty, axis_uncertainty = find_uncertainties(points, normals, fit)
        places.append(off_axis(fit.centre, np.zeros(3), Z) / centre_uncertainty)
        axes.append(np.radians(degrees_between(fit.axes[0], Z)) / axis_uncertainty)
    assert 0.3 < np.sqrt(np.mean(np.square(places))) < 1.5
    assert 0.3 < np.sqrt(np.mean(np.square(axes))) < 1.5


def make_hinge(R, place):
    points, normals = turned(*HINGES["wide cylinder"])
    return fit_revolution([(points @ R.T + place, normals @ R.T)], starts(points @ R.T + place, normals @ R.T))


QUARTER = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])


def test_hinges_through_a_balls_centre_are_no_rivals():
    ball = fit_ball(*cap(90))
    upright, level = make_hinge(np.eye(3), np.zeros(3)), make_hinge(QUARTER, np.zeros(3))
    assert compare_rival(ball, upright, 0.0, 0.0) == ""
    assert compare_rival(upright, ball, 0.0, 0.0) == ""
    assert compare_hinges(ball, [(upright, 0.0), (level, 0.0)]) == ""


def test_rivals_that_turn_elsewhere_are_told():
    ball = fit_ball(*cap(90))
    aside = make_hinge(np.eye(3), np.array([0.2, 0, 0]))
    before, behind = make_hinge(np.eye(3), np.array([0.07, 0, 0])), make_hinge(QUARTER, np.array([-0.07, 0, 0]))
    assert compare_rival(ball, aside, 0.0, 0.0) == "a hinge 200 mm beside it fits as well"
    assert compare_rival(ball, aside, 0.2, 0.0) == ""  # known no better than that
    assert "turned from it by 90°" in compare_rival(before, behind, 0.0, 0.0)
    assert compare_rival(ball, before, 0.0, 0.0) == ""
    assert "pass each other" in compare_hinges(ball, [(before, 0.0), (behind, 0.0)])
