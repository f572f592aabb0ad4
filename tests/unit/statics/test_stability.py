"""Margins and moments about the edges of the support polygon, on level and uneven ground."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core_calcs.statics.polygon import find_outline
from core_calcs.statics.stability import find_axes, measure_force_angles, measure_holding, measure_margins

RECTANGLE = np.array([[-2, -1, 0], [2, -1, 0], [2, 1, 0], [-2, 1, 0]], float)


def make_uneven(rng, count=8):
    """Axes over contact points at different heights, and a centre of mass over their middle."""
    points = rng.normal(size=(count, 3)) * [1, 1, 0.3]
    return find_axes(points[find_outline(points[:, :2])]), [*points[:, :2].mean(axis=0), rng.uniform(1, 3)]


def test_margins_change_sign_on_the_edge_together():
    for beyond, sign in ((-0.1, 1), (0.0, 0), (0.1, -1)):
        margins = measure_margins(find_axes(RECTANGLE), [2 + beyond, 0, 1.5], 100.0)
        for figures in (margins.distance_m, margins.tip_angle_rad, margins.energy_J):
            assert np.sign(np.round(figures[1], 12)) == sign


def test_level_edge_has_the_textbook_margins():
    corners = RECTANGLE + np.array([0, 0, 0.5])
    margins = measure_margins(find_axes(corners), [0.7, 0.2, 2.5], 100.0)
    np.testing.assert_allclose(margins.distance_m, [1.2, 1.3, 0.8, 2.7])
    np.testing.assert_allclose(margins.tip_angle_rad, np.arctan(margins.distance_m / 2.0))
    np.testing.assert_allclose(margins.energy_J, 100 * (np.hypot(margins.distance_m, 2.0) - 2.0))


def test_turning_about_any_edge_by_its_tip_angle_brings_the_centre_over_it(rng):
    """The body turned in space by scipy: the centre ends over the edge, higher by energy over weight, and highest."""
    for _ in range(50):
        axes, centre = make_uneven(rng)
        margins = measure_margins(axes, centre, 100.0)
        for i, (start, along) in enumerate(zip(axes.start_m, axes.along, strict=True)):
            lifted = Rotation.from_rotvec(margins.tip_angle_rad[i] * along).apply(centre - start) + start
            assert (lifted - start) @ axes.inward[i] == pytest.approx(0, abs=1e-12)
            rise = lifted[2] - centre[2]
            assert margins.energy_J[i] == pytest.approx(np.copysign(100 * rise, margins.distance_m[i]), abs=1e-9)
            for more in (-1e-3, 1e-3):
                turn = Rotation.from_rotvec((margins.tip_angle_rad[i] + more) * along)
                assert turn.apply(centre - start)[2] + start[2] < lifted[2]


def test_no_contact_sinks_when_the_body_tips_about_an_edge_and_about_no_other_pair(rng):
    """Why the edges are those of the hull as seen from above."""
    for _ in range(20):
        points = rng.normal(size=(7, 3))
        ring = find_outline(points[:, :2]).tolist()
        edges = set(zip(ring, ring[1:] + ring[:1], strict=True))
        for i in range(7):
            for j in range(7):
                if i != j:
                    rise = np.cross(points[j] - points[i], points - points[i])[:, 2]
                    assert ((rise > -1e-12).all()) == ((i, j) in edges)


@pytest.mark.parametrize("middle", [-0.5, 0.5])
def test_a_contact_on_an_edge_that_is_higher_or_lower_than_it_takes_nothing_from_the_margin(middle):
    """Three contacts in one line in plan, the middle one off the line in space; behind them a fourth.

    The edge runs past the middle contact. Turned about it a lower one rises; a higher one would sink, so that the body
    tips about it and its neighbours instead, by a greater angle: the edge's own is on the safe side.
    """
    points = np.array([[-1, 0, 0], [0, 0, middle], [1, 0, 0], [0, 2, 0]], float)
    ring = find_outline(points[:, :2])
    assert set(ring.tolist()) == {0, 2, 3}
    centre = np.array([0.0, 0.3, 1.0])
    long, short = (find_axes(points[list(own)]) for own in (ring, (0, 1, 3)))
    edge = next(i for i in range(3) if long.start_m[i, 1] == long.end_m[i, 1] == 0)
    margins = measure_margins(long, centre, 100.0)
    assert margins.distance_m[edge] == pytest.approx(0.3)
    assert margins.tip_angle_rad[edge] == pytest.approx(np.arctan(0.3 / 1.0))
    assert margins.energy_J[edge] == pytest.approx(100 * (np.hypot(0.3, 1.0) - 1.0))
    turn = Rotation.from_rotvec(0.2 * long.along[edge])
    rises = turn.apply(points - points[0])[:, 2] + points[0, 2] - points[:, 2]
    # By the height over the edge times one less the cosine; the fourth by its distance in plan.
    np.testing.assert_allclose(rises, [0, middle * (np.cos(0.2) - 1), 0, 2 * np.sin(0.2)], atol=1e-12)
    across = measure_margins(short, centre, 100.0)
    own = next(i for i in range(3) if short.start_m[i, 1] == short.end_m[i, 1] == 0)
    assert across.distance_m[own] == pytest.approx(0.3)
    slope = np.arctan(middle)
    assert across.tip_angle_rad[own] == pytest.approx(np.arctan2(0.3, (1.0 - middle) * np.cos(slope)))
    assert (across.tip_angle_rad[own] > margins.tip_angle_rad[edge]) == (middle > 0)
    assert (across.energy_J[own] > margins.energy_J[edge]) == (middle > 0)


def test_energy_keeps_its_digits_at_small_margins():
    margins = measure_margins(find_axes(RECTANGLE), [2 - 1e-6, 0, 2.0], 100.0)
    assert margins.energy_J[1] == pytest.approx(100.0 * 1e-12 / 4, rel=1e-6)


def test_moments_are_those_of_the_cross_product(rng):
    axes, _ = make_uneven(rng)
    forces, points = rng.normal(size=(2, 5, 3))
    arms = points[:, None, :] - axes.start_m
    expected = -(np.cross(arms, forces[:, None, :]) * axes.along).sum(axis=-1)
    np.testing.assert_allclose(measure_holding(axes, forces, points), expected, atol=1e-12)


def test_weight_holds_by_its_distance_across_a_slanting_edge(rng):
    axes, centre = make_uneven(rng)
    held = measure_holding(axes, [0, 0, -80.0], centre)
    np.testing.assert_allclose(held, 80 * measure_margins(axes, centre, 80.0).distance_m * axes.upward[:, 2])


def test_force_angle_at_rest_is_the_tip_angle_across_the_edge(rng):
    axes, centre = make_uneven(rng)
    found = measure_force_angles(axes, centre, [0, 0, -70.0])
    np.testing.assert_allclose(found.angle_rad, measure_margins(axes, centre, 70.0).tip_angle_rad)
    np.testing.assert_allclose(found.force_N, 70 * axes.upward[:, 2])


def test_force_angle_is_zero_where_the_moment_about_the_edge_is(rng):
    """A force off the centre and its moment: signs of angle and moment agree; where one is zero both are."""
    for _ in range(50):
        axes, centre = make_uneven(rng)
        force, moment = rng.normal(size=(2, 3)) * [30, 30, 10] + np.array([[0, 0, -70], [0, 0, 0]])
        held = measure_holding(axes, force, centre) - axes.along @ moment
        found = measure_force_angles(axes, centre, force, moment)
        np.testing.assert_array_equal(np.sign(held), np.sign(found.angle_rad))
        # A couple about the first axis that takes up what holds there.
        found = measure_force_angles(axes, centre, force, moment + held[0] * axes.along[0])
        assert np.sin(found.angle_rad[0]) == pytest.approx(0, abs=1e-12)
        assert found.distance_m[0] == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("change", ["turn", "shift", "scale", "mirror"])
def test_margins_go_with_the_whole(rng, change):
    for _ in range(20):
        points, centre = rng.normal(size=(8, 3)) * [1, 1, 0.3], np.array([0.1, -0.1, 2.0])
        turn = Rotation.from_euler("z", rng.uniform(0, 7)).as_matrix()
        M, shift, size = {
            "turn": (turn, np.zeros(3), 1.0),
            "shift": (np.eye(3), rng.normal(size=3) * 1e3, 1.0),
            "scale": (3.7 * np.eye(3), np.zeros(3), 3.7),
            "mirror": (np.diag([1.0, -1.0, 1.0]), np.zeros(3), 1.0),
        }[change]
        here, there = (
            measure_margins(find_axes(p[find_outline(p[:, :2])]), c, 100.0)
            for p, c in ((points, centre), (points @ M.T + shift, M @ centre + shift))
        )
        for figure, power in (("distance_m", 1), ("tip_angle_rad", 0), ("energy_J", 1)):
            ours, theirs = np.sort(getattr(here, figure)), np.sort(getattr(there, figure))
            np.testing.assert_allclose(theirs, ours * size**power, rtol=1e-9, atol=1e-9)
