"""Which points of the feet stand."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.site.site import Site
from core_calcs.statics.contacts import OUTLINE_SHARE, find_contacts
from core_calcs.statics.polygon import find_support_polygon


def test_points_within_the_tolerance_or_below_stand():
    points = np.array([[0, 0, 1.2], [1, 0, 1.2049], [0, 1, 1.1], [5, 5, 1.2051]])
    contacts = find_contacts(points, np.array([0, 1, 2, 3]), np.array([7, 8, 9, 9]), Site(ground_m=1.2))
    np.testing.assert_array_equal(contacts.points_m, points[:3])
    assert contacts.foot.tolist() == [0, 1, 2]
    assert contacts.body.tolist() == [7, 8, 9]


def test_every_foot_stands_on_its_own_ground():
    points = np.array([[0, 0, 0.0], [1, 0, 0.3049], [0, 1, -0.2], [1, 1, 0.0]])
    contacts = find_contacts(points, np.arange(4), np.zeros(4, int), Site(), heights_m=[0, 0.3, -0.2, -0.1])
    assert contacts.foot.tolist() == [0, 1, 2]
    np.testing.assert_allclose(contacts.on_ground_m, [[0, 0, 0], [1, 0, 0.3], [0, 1, -0.2]])


def test_nothing_stands_above():
    contacts = find_contacts(np.array([[0, 0, 1.0]]), np.array([0]), np.array([0]), Site())
    assert contacts.points_m.shape == (0, 3)


@pytest.mark.parametrize("count", [3, 50, 4000])
def test_outline_keeps_its_size_with_few_corners(rng, count):
    angle = rng.uniform(0, 2 * np.pi, count)
    radius = np.sqrt(rng.uniform(0, 1, count))
    points = np.column_stack([0.06 * radius * np.cos(angle), 0.03 * radius * np.sin(angle), np.zeros(count)])
    kept = find_contacts(points, np.zeros(count, int), np.zeros(count, int), Site()).points_m
    assert 3 <= len(kept) <= 20
    full = find_support_polygon(points[:, :2])
    for direction in np.linspace(0, 2 * np.pi, 17):
        n = np.array([np.cos(direction), np.sin(direction)])
        reach = (full @ n).max() - (kept[:, :2] @ n).max()
        # Corners go one after the other: together they may take a little more than one may.
        assert 0 <= reach <= 2 * OUTLINE_SHARE * np.ptp(full, axis=0).max()


def test_corners_of_a_square_pad_stay():
    square = np.array([[x, y, 0] for x in (0, 0.1) for y in (0, 0.1)])
    grid = np.array([[x, y, 0] for x in np.linspace(0, 0.1, 11) for y in np.linspace(0, 0.1, 11)])
    kept = find_contacts(grid, np.zeros(121, int), np.zeros(121, int), Site()).points_m
    assert sorted(map(tuple, kept.round(12))) == sorted(map(tuple, square))
