"""Standard errors of column joints' frames against what these are truly off: the demo's vertebrae, made by code."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[3] / "demo_blend"))
from strider.animal import make_vertebra_mesh, name_vertebra
from strider.column import Vertebra, plan_column

from core_calcs.articulation.column import column_axes
from core_calcs.articulation.facets import find_facets
from core_calcs.articulation.frame_uncertainty import cut_sectors, find_column_uncertainty, leave_out
from core_calcs.articulation.frames import column_frame
from core_calcs.articulation.partner import Partner, prepare_partner
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body

COLUMN = plan_column()
BALLS = [i for i, vertebra in enumerate(COLUMN[:-1]) if vertebra.tail.ball_radius_m is not None]
DISCS = [i for i in range(len(COLUMN) - 1) if i not in BALLS][::9]
SEED = 7


@cache
def make_partner(index: int) -> Partner:
    vertebra: Vertebra = COLUMN[index]
    surface, solid = survey_body(Surface(*make_vertebra_mesh(vertebra, SEED, 1.0)))
    return prepare_partner(name_vertebra(vertebra), surface, solid.volume_m3, solid.centre_m)


def measure(index: int) -> tuple[float, float]:
    """What centre and axes are off, each over its standard error."""
    headward, tailward = (make_partner(k) for k in (index, index + 1))
    axes = column_axes(headward.centre, tailward.centre)
    pairs = find_facets(headward, tailward, axes).pairs
    plates = next(pair for pair in pairs if pair[0].kind == "centrum")
    frame = column_frame(*plates, axes, True, min(headward.size, tailward.size))
    uncertainty = find_column_uncertainty(frame.ball, *plates, pairs, axes)
    true = COLUMN[index].tail.X_WJ
    off = float(np.linalg.norm(frame.X_WJ[:3, 3] - true[:3, 3]))
    # A true axis against the nearest of the frame's: the two are named in another order.
    askew = np.arccos(np.minimum(np.abs(frame.X_WJ[:3, :3].T @ true[:3, :3]).max(axis=0), 1)).max()
    assert uncertainty.centre_m is not None
    assert uncertainty.axes_rad is not None
    return off / uncertainty.centre_m, float(askew) / uncertainty.axes_rad


def test_a_condyles_centre_is_off_by_about_its_standard_error():
    centres, axes = np.array([measure(index) for index in BALLS]).T
    assert 0.5 < np.sqrt(np.mean(centres**2)) < 1.5
    assert 0.5 < np.sqrt(np.mean(axes**2)) < 1.5


def test_a_discs_centre_lies_well_within_its_standard_error():
    """That is the disc's thickness, in which nothing says where it turns; the made-up ones turn about its middle."""
    centres, axes = np.array([measure(index) for index in DISCS]).T
    assert np.sqrt(np.mean(centres**2)) < 0.5
    assert 0.5 < np.sqrt(np.mean(axes**2)) < 2.0


def test_the_jackknife_of_a_mean_is_its_standard_error():
    """Of the mean of six numbers: their standard deviation over √6 (Efron & Tibshirani 1993, equation 11.5)."""
    numbers = np.array([1.0, 4.0, 2.0, 8.0, 5.0, 7.0])
    found = leave_out(np.arange(6), np.arange(6), lambda index: numbers[index].mean(keepdims=True))
    assert found == pytest.approx(numbers.std(ddof=1) / np.sqrt(6))


def test_what_some_sectors_do_not_tell_is_not_known():
    assert leave_out(np.arange(6), np.arange(6), lambda index: None if 3 in index else np.zeros(3)) is None


def test_sectors_are_cut_about_an_axis():
    turn = np.radians(np.arange(0, 360, 10) + 5)
    points = np.column_stack([np.cos(turn), np.sin(turn), turn])
    sectors = cut_sectors(points + 3.0, np.full(3, 3.0), np.array([0, 0, 1.0]))
    assert np.bincount(sectors).tolist() == [6] * 6
    assert np.abs(np.diff(sectors) % 6).max() <= 5
