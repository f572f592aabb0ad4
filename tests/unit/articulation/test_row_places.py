"""Where a missing element of a row would stand: known for rows that grow and bend evenly."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core_calcs.articulation.row_places import RowMember, expect_place, find_place
from core_calcs.spatial.errors import SkeletonError

LEFT = np.array([0.0, 1.0, 0.0])
GROWTH = np.array([0.95, 0.9, 0.92])
RADII = np.array([0.4, 0.2, 0.3])


def make_row(count: int, bend: float) -> list[RowMember]:
    """From the head on: each by GROWTH the size of the one before, each turned by `bend` downwards against it."""
    members, centre, axes = [], np.zeros(3), np.eye(3)
    for k in range(1, count + 1):
        radii = RADII * GROWTH**k
        if k > 1:
            turn = Rotation.from_rotvec((0, bend / 2, 0)).as_matrix()
            axes = turn @ axes
            centre = centre - axes[:, 0] * (radii[0] + RADII[0] * GROWTH[0] ** (k - 1))
            axes = turn @ axes
        members.append(RowMember(f"V{k}", k, centre, axes @ np.diag(radii**2) @ axes.T))
    return members


@pytest.mark.parametrize("bend", [0.0, 0.12])
@pytest.mark.parametrize("missing", [2, 5, 8, 9, 1])
def test_one_taken_out_is_expected_where_it_was(bend, missing):
    row = make_row(9, bend)
    place = expect_place([own for own in row if own.number != missing], missing, LEFT)
    true, radii = row[missing - 1], RADII * GROWTH**missing
    assert np.linalg.norm(place.centre - true.centre) < 0.03 * radii[0] if bend else 1e-9
    np.testing.assert_allclose(place.radii_m, radii, rtol=0.01 if bend else 1e-9)
    own = find_place(row, true.name, LEFT)
    turned = Rotation.from_matrix(place.axes.T @ own.axes).magnitude()
    assert turned < (np.radians(2.5) if bend else 1e-9)


def test_two_beside_each_other_share_the_room_by_their_lengths():
    row = make_row(9, 0.0)
    rest = [own for own in row if own.number not in (4, 5)]
    for number in (4, 5):
        np.testing.assert_allclose(expect_place(rest, number, LEFT).centre, row[number - 1].centre, atol=1e-9)


def test_the_place_goes_with_the_row():
    R = Rotation.from_euler("xyz", (0.5, 0.8, -0.4)).as_matrix()
    shift = np.array([1.0, 2.0, 3.0])
    row = [own for own in make_row(7, 0.1) if own.number != 4]
    turned = [RowMember(own.name, own.number, R @ own.centre + shift, R @ own.second @ R.T) for own in row]
    one, other = expect_place(row, 4, LEFT), expect_place(turned, 4, R @ LEFT)
    np.testing.assert_allclose(other.centre, R @ one.centre + shift, atol=1e-12)
    np.testing.assert_allclose(other.axes, R @ one.axes, atol=1e-12)
    np.testing.assert_allclose(other.radii_m, one.radii_m, atol=1e-12)


def test_a_row_of_one_and_a_number_far_beyond_are_refused():
    row = make_row(4, 0.0)
    with pytest.raises(SkeletonError, match="no second neighbour"):
        expect_place(row[:1], 2, LEFT)
    with pytest.raises(SkeletonError, match="others are missing too"):
        expect_place(row, 6, LEFT)


def test_a_row_across_the_animal_is_refused():
    row = [RowMember(str(k), k, np.array([0.0, k, 0.0]), np.eye(3)) for k in (1, 2, 4)]
    with pytest.raises(SkeletonError, match="runs across the animal"):
        expect_place(row, 3, LEFT)
