"""Ground reactions by springs and their range."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog, minimize
from scipy.spatial import ConvexHull

from core_calcs.statics.polygon import find_support_polygon
from core_calcs.statics.reactions import find_reaction_vertices, solve_springs


def measure_inside(points, centre):
    """How far the centre is inside the points' hull."""
    polygon = find_support_polygon(points)
    along = np.roll(polygon, -1, axis=0) - polygon
    offset = centre - polygon
    return ((along[:, 0] * offset[:, 1] - along[:, 1] * offset[:, 0]) / np.hypot(*along.T)).min()


def make_case(rng, inside):
    """Points, stiffnesses and a centre: inside the points' hull, or anywhere."""
    n = int(rng.integers(3, 25))
    points = rng.normal(size=(n, 2)) * [1, 10 ** rng.uniform(-1, 1)] + rng.normal(size=2) * 10
    stiffness = rng.uniform(0.1, 1, n)
    if inside:
        return points, stiffness, rng.dirichlet(np.full(n, 10 ** rng.uniform(-1, 1))) @ points
    return points, stiffness, points.mean(axis=0) + rng.normal(size=2) * 2


def test_springs_keep_equilibrium_and_pull_nowhere(rng):
    for _ in range(200):
        points, stiffness, centre = make_case(rng, True)
        forces = solve_springs(points, stiffness, 700.0, centre)
        if forces is None:  # the centre on the hull's edge to the last digit
            assert measure_inside(points, centre) < 1e-12
            continue
        assert (forces >= 0).all()
        np.testing.assert_allclose(forces.sum(), 700, rtol=1e-11)
        np.testing.assert_allclose(forces @ points, 700 * centre, rtol=1e-9, atol=1e-9)
        # Pressed springs follow one plane; the released ones would be above the ground.
        rows = np.column_stack([np.ones(len(points)), points - centre])
        pressed = forces > 1e-7
        if pressed.sum() >= 3:
            plane = np.linalg.lstsq(rows[pressed], (forces / stiffness)[pressed], rcond=None)[0]
            scale = (forces / stiffness).max()
            np.testing.assert_allclose(rows[pressed] @ plane, (forces / stiffness)[pressed], atol=1e-7 * scale)
            assert (rows[~pressed] @ plane <= 1e-5 * scale).all()


def test_springs_take_the_least_energy(rng):
    """Castigliano: of all pushing forces in equilibrium those of the springs store the least; by a general solver."""
    for _ in range(5):
        points, stiffness, centre = make_case(rng, True)
        ours = solve_springs(points, stiffness, 1.0, centre)
        rows = np.column_stack([np.ones(len(points)), points - centre])
        start = np.full(len(points), 1 / len(points))
        theirs = minimize(
            lambda f, k=stiffness: 0.5 * f @ (f / k),
            start,
            jac=lambda f, k=stiffness: f / k,
            bounds=[(0, None)] * len(points),
            constraints={"type": "eq", "fun": lambda f, a=rows: a.T @ f - [1, 0, 0], "jac": lambda f, a=rows: a.T},
            method="SLSQP",
            options={"ftol": 1e-14, "maxiter": 500},
        )
        assert theirs.success
        np.testing.assert_allclose(ours, theirs.x, atol=1e-5)


def test_centre_outside_is_refused(rng):
    refused = 0
    for _ in range(200):
        points, stiffness, centre = make_case(rng, False)
        margin = measure_inside(points, centre)
        forces = solve_springs(points, stiffness, 1.0, centre)
        assert (forces is None) == (margin < 0)
        assert (len(find_reaction_vertices(points, 1.0, centre)[0]) == 0) == (margin < 0)
        refused += forces is None
    assert 20 < refused < 180


def test_centre_on_edge_and_on_corner():
    square = np.array([[2, 1], [2, -1], [-2, 1], [-2, -1]], float)
    np.testing.assert_allclose(solve_springs(square, np.ones(4), 50.0, [2, 0.1]), [27.5, 22.5, 0, 0], atol=1e-9)
    np.testing.assert_allclose(solve_springs(square, np.ones(4), 50.0, [2, 1]), [50, 0, 0, 0], atol=1e-9)


def test_points_in_a_line_carry_what_is_over_the_line():
    line = np.array([[0, 0], [1, 0]], float)
    np.testing.assert_allclose(solve_springs(line, np.ones(2), 50.0, [0.3, 0]), [35, 15])
    assert solve_springs(line, np.ones(2), 50.0, [0.3, 0.1]) is None


def test_range_is_that_of_linear_programming(rng):
    """Any linear figure of the reactions, its least value by an independent solver."""
    for _ in range(60):
        points, _, centre = make_case(rng, True)
        corners, forces = find_reaction_vertices(points, 1.0, centre)
        assert (forces >= 0).all()
        np.testing.assert_allclose(forces.sum(axis=1), 1)
        np.testing.assert_allclose((forces[..., None] * points[corners]).sum(axis=1), np.tile(centre, (len(forces), 1)))
        figure = rng.normal(size=len(points))
        rows = np.column_stack([np.ones(len(points)), points - centre])
        least = linprog(figure, A_eq=rows.T, b_eq=[1, 0, 0]).fun
        assert (forces * figure[corners]).sum(axis=1).min() == pytest.approx(least, abs=1e-9)


def test_anchored_springs_are_those_of_linear_algebra(rng):
    """All anchored: one linear system, wherever the centre is."""
    for _ in range(50):
        points, stiffness, centre = make_case(rng, False)
        rows = np.column_stack([np.ones(len(points)), points - points.mean(axis=0)])
        load = np.array([1, *(centre - points.mean(axis=0))])
        sunk = np.linalg.solve(rows.T @ (stiffness[:, None] * rows), load)
        found = solve_springs(points, stiffness, 70.0, centre, np.ones(len(points), bool))
        np.testing.assert_allclose(found, 70 * stiffness * (rows @ sunk), rtol=1e-9, atol=1e-9)


def test_one_anchored_foot_holds_what_would_tip():
    """By hand: a centre .5 m beyond the edge x = 1, the back edge at x = -1; two feet a side, those at the back
    anchored."""
    points = np.array([[1, 1], [1, -1], [-1, 1], [-1, -1]], float)
    anchored = np.array([False, False, True, True])
    assert solve_springs(points, np.ones(4), 40.0, [1.5, 0]) is None
    forces = solve_springs(points, np.ones(4), 40.0, [1.5, 0], anchored)
    np.testing.assert_allclose(forces, [25, 25, -5, -5], atol=1e-9)


def test_anchors_of_some_feet_release_the_others(rng):
    """Equilibrium holds; what is not anchored never pulls; the stored energy is the least by a general solver."""
    pulled = 0
    for _ in range(40):
        points, stiffness, centre = make_case(rng, False)
        anchored = rng.random(len(points)) < 0.4
        forces = solve_springs(points, stiffness, 1.0, centre, anchored)
        if forces is None:
            continue
        reach = np.abs(points - centre).max()
        np.testing.assert_allclose(forces.sum(), 1, rtol=1e-9)
        np.testing.assert_allclose(forces @ (points - centre) / reach, [0, 0], atol=1e-9)
        assert (forces[~anchored] >= 0).all()
        pulled += (forces < 0).any()
        rows = np.column_stack([np.ones(len(points)), (points - centre) / reach])
        # Never less energy by any change that keeps equilibrium and pulls at no free point.
        free = np.linalg.svd(rows.T)[2][3:]
        for change in free:
            for size in (1e-4, -1e-4):
                other = forces + size * change
                if (other[~anchored] >= 0).all():
                    assert (other**2 / stiffness).sum() >= (forces**2 / stiffness).sum() - 1e-12
    assert pulled > 5


def test_a_soft_foot_takes_less():
    points = np.array([[1, 1], [1, -1], [-1, 1], [-1, -1]], float)
    forces = solve_springs(points, [1, 3, 3, 1], 40.0, [0, 0])
    np.testing.assert_allclose(forces, [5, 15, 15, 5], atol=1e-9)


def test_outside_the_hull_nothing_carries_and_just_inside_something_does(rng):
    """The hull as scipy has it: the same verdict of centres all about, some of them very near its edge."""
    for n in (3, 5, 12):
        for _ in range(40):
            points = rng.normal(size=(n, 2)) * (1, 0.3)
            hull = ConvexHull(points)
            corners = points[hull.vertices]
            i, t = rng.integers(len(corners)), rng.uniform(0.05, 0.95)
            edge = corners[i - 1] * t + corners[i] * (1 - t)
            centre = edge + rng.choice([-0.5, -1e-5, 1e-5, 0.5]) * (corners.mean(axis=0) - edge)
            inside = (hull.equations[:, :2] @ centre + hull.equations[:, 2] < 0).all()
            assert (solve_springs(points, np.ones(n), 100.0, centre) is not None) == inside
