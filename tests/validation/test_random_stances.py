"""Random contacts under random centres of mass: verdicts, margins and foot ranges against shapely and scipy's linprog.

Two thousand of them in every run; a hundred thousand in `make trials`. A fifth each: feet anywhere; mirrored feet;
corners on a coarse grid, where duplicates and points in one line are the rule; the centre exactly on an edge or a
corner, up to rounding; thin polygons.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest
import shapely
from scipy.optimize import linprog
from scipy.sparse import coo_matrix

from core_calcs.statics.batch_margins import measure_batch
from core_calcs.statics.polygon import find_outline
from core_calcs.statics.reactions import find_reaction_vertices, solve_springs
from core_calcs.statics.stability import find_axes, measure_margins

POINTS = 12
"""The most contact points of one stance."""
TIE = 1e-9
"""Verdicts may part where the margin is within this share of the extent."""
AT_ONCE = 250
"""Stances that one linear programme holds, block beside block."""
KINDS = ("anywhere", "mirrored", "grid", "on the edge", "thin")


@dataclass
class Stance:
    """Contact points (n, 2) in units of about 1, the foot of each, and the centre of mass over (2,)."""

    points: np.ndarray
    foot: np.ndarray
    centre: np.ndarray


def draw_stance(rng, kind):
    feet = int(rng.integers(1, 5))
    foot = np.repeat(np.arange(feet), rng.integers(1, POINTS // feet + 1, feet))
    middle = rng.normal(size=(feet, 2))
    points = middle[foot] + rng.normal(size=(len(foot), 2)) * 0.1
    if kind == "mirrored":
        half = foot[: POINTS // 2]
        foot = np.concatenate([half * 2, half * 2 + 1])
        points = np.concatenate([points[: POINTS // 2], points[: POINTS // 2] * [1, -1]])
        foot = np.unique(foot, return_inverse=True)[1]
    elif kind == "grid":
        points = rng.integers(-2, 3, size=points.shape).astype(float)
    elif kind == "thin":
        points = points * [1, 10 ** rng.uniform(-6, 0)]
    turn = rng.uniform(0, 2 * np.pi) if rng.random() < 0.5 else 0.0
    c, s = np.cos(turn), np.sin(turn)
    points = points @ np.array([[c, s], [-s, c]])
    inside = rng.dirichlet(np.full(len(points), 10 ** rng.uniform(-1, 1))) @ points
    centre = inside if rng.random() < 0.6 else points.mean(axis=0) + rng.normal(size=2) * np.ptp(points, axis=0)
    if kind == "on the edge":
        ring = points[find_outline(points)]
        share = rng.choice([0.0, rng.uniform()])
        centre = share * ring[0] + (1 - share) * ring[1 % len(ring)]
    return Stance(points, foot, centre)


def draw_stances(count, seed):
    rng = np.random.default_rng(seed)
    return [draw_stance(rng, KINDS[i % len(KINDS)]) for i in range(count)]


def measure(stances):
    """Margin of each stance by the code that studies one pose; NaN where it stands on no polygon."""
    margins = np.full(len(stances), np.nan)
    for i, own in enumerate(stances):
        ring = find_outline(own.points)
        if len(ring) >= 3:
            corners = np.column_stack([own.points[ring], np.zeros(len(ring))])
            margins[i] = measure_margins(find_axes(corners), [*own.centre, 1.0], 1.0).distance_m.min()
    return margins


def measure_all_at_once(stances):
    """The same by the code that studies many poses."""
    points, on = np.zeros((len(stances), POINTS, 3)), np.zeros((len(stances), POINTS), bool)
    for i, own in enumerate(stances):
        points[i, : len(own.points), :2], on[i, : len(own.points)] = own.points, True
    centres = np.array([[*own.centre, 1.0] for own in stances])
    return measure_batch(points, on, centres, 1.0).distance_m


def ask_shapely(stances):
    """Whether the hull covers the centre, and the distance to its boundary; NaN where it is no polygon."""
    hulls = shapely.convex_hull(np.array([shapely.MultiPoint(own.points) for own in stances]))
    centres = shapely.points([own.centre for own in stances])
    polygon = shapely.get_type_id(hulls) == 3
    return polygon, shapely.covers(hulls, centres), shapely.distance(shapely.boundary(hulls), centres)


def solve_blocks(stances, costs, slack):
    """Forces of every stance, of the least cost, by one linear programme for many of them.

    slack : what is off equilibrium may be made up at a cost of 1 a unit, which is returned; else it must be none
    """
    found = []
    for begin in range(0, len(stances), AT_ONCE):
        some = stances[begin : begin + AT_ONCE]
        rows, columns, values, cost, loads, at = [], [], [], [], [], 0
        for i, own in enumerate(some):
            A, load = np.stack([np.ones(len(own.points)), *(own.points - own.centre).T]), np.array([1.0, 0, 0])
            if slack:
                A = np.hstack([A, np.eye(3), -np.eye(3)])
            else:
                # The same three equations, made square to each other: the solver's tolerances then mean something.
                Q, R = np.linalg.qr(A.T)
                A, load = Q.T, np.linalg.solve(R.T, load)
            loads.append(load)
            k = A.shape[1]
            rows.append(np.repeat(3 * i + np.arange(3), k))
            columns.append(np.tile(at + np.arange(k), 3))
            values.append(A.ravel())
            own_cost = np.zeros(k) if costs is None else np.asarray(costs[begin + i], float)
            cost.append(np.concatenate([np.zeros(k - 6), np.ones(6)]) if slack else own_cost)
            at += k
        A = coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), (3 * len(some), at))
        exact = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}
        cost = np.concatenate(cost)
        done = linprog(cost, A_eq=A.tocsr(), b_eq=np.concatenate(loads), options=exact)
        assert done.status == 0, done.message
        ends = np.cumsum([len(own.points) + 6 * slack for own in some])[:-1]
        found += [float(part.sum()) for part in np.split(cost * done.x, ends)]
    return np.array(found)


def find_ranges(stances):
    """Least and greatest share of every foot by the code and by linear programming.

    Beside them whether the support is wider than a millionth of its length, and how far the code is off the exact value
    wherever the two differ by more than 1e-10.
    """
    ours, asked, costs = [], [], []
    for own in stances:
        corners, forces = find_reaction_vertices(own.points, 1.0, own.centre)
        for f in np.unique(own.foot):
            cost = (own.foot == f).astype(float)
            shares = (forces * cost[corners]).sum(axis=1)
            ours += [shares.min(), -shares.max()]
            asked += [own, own]
            costs += [cost, -cost]
    theirs = solve_blocks(asked, costs, False)
    ours = np.array(ours)
    settle = np.flatnonzero(np.abs(ours - theirs) > 0.1 * TIE)
    exact = np.array([find_exact_end(asked[i], costs[i]) for i in settle])
    wide = np.array([measure_slimness(own) > 1e-6 for own in asked])
    return ours, theirs, wide, ours[settle] - exact


def find_exact_end(stance, cost):
    """Least value of a sum of forces in fractions, without rounding: over all triangles that hold the centre."""
    x0, y0 = (Fraction(float(v)) for v in stance.centre)
    seen = [(Fraction(float(x)) - x0, Fraction(float(y)) - y0) for x, y in stance.points]
    ends = []
    for three in combinations(range(len(seen)), 3):
        (ax, ay), (bx, by), (cx, cy) = (seen[i] for i in three)
        areas = (bx * cy - by * cx, cx * ay - cy * ax, ax * by - ay * bx)
        whole = sum(areas)
        if whole != 0 and min(area / whole for area in areas) >= 0:
            ends.append(sum(Fraction(float(cost[i])) * area / whole for i, area in zip(three, areas, strict=True)))
    return float(min(ends))


def measure_slimness(stance):
    """Width over length of a stance's points."""
    spread = np.linalg.svd(stance.points - stance.points.mean(axis=0), compute_uv=False)
    return spread[1] / spread[0]


def hold_against_peers(check_value, count, seed):
    stances = draw_stances(count, seed)
    extent = np.array([max(float(np.ptp(own.points, axis=0).max()), 1e-12) for own in stances])
    margins, batch = measure(stances), measure_all_at_once(stances)
    polygon, covered, distance = ask_shapely(stances)
    lines = np.isnan(margins)
    case = f"{count} random stances"
    # A polygon whose width is rounding is a line here and may be a polygon there.
    thin = np.array([lines[i] and polygon[i] and is_wide(stances[i]) for i in range(count)])
    check_value(f"{case}: polygons that shapely sees and we do not", "shapely's convex hull", "D", 0, int(thin.sum()))
    both = ~lines & polygon
    tied = np.abs(np.where(both, margins, 0)) <= TIE * extent
    parted = both & ~tied & ((margins >= 0) != covered)
    check_value(f"{case}: verdicts that part from shapely's", "shapely's covers", "D", 0, int(parted.sum()))
    inside = both & covered & ~tied
    off = np.abs(margins - distance)[inside] / np.maximum(extent[inside], 1)
    check_value(f"{case}: greatest difference of margins [m]", "shapely's distance", "D", 0, off.max(), abs=1e-9)
    beyond = both & ~covered & ~tied
    # Outside, the distance to the edge's line: never more than that to the polygon.
    check_value(
        f"{case}: margins outside that exceed the distance to the polygon",
        "shapely's distance",
        "D",
        0,
        int((-margins[beyond] > distance[beyond] + 1e-9 * extent[beyond]).sum()),
    )
    off = np.nanmax(np.abs(margins - batch) / np.maximum(extent, 1))
    same = bool((np.isnan(batch) == lines).all())
    check_value(f"{case}: one by one and all at once tell the same polygons", "each other", "D", True, same)
    check_value(f"{case}: one by one against all at once [m]", "each other", "D", 0, off, abs=1e-9)

    lacking = solve_blocks(stances, None, True)
    parted = ~lines & ~tied & ((margins >= 0) != (lacking <= 1e-9))
    source = "scipy's linprog (HiGHS): whether pushing forces keep equilibrium"
    check_value(f"{case}: verdicts that part from linprog's", source, "D", 0, int(parted.sum()))
    carried = [own for own, stands in zip(stances, ~lines & ~tied & (margins > 0), strict=True) if stands]
    bare = sum(solve_springs(own.points, np.ones(len(own.points)), 1.0, own.centre) is None for own in carried)
    check_value(f"{case}: stances that stand and have no reactions by springs", source, "D", 0, bare)
    ours, theirs, wide, off_exact = find_ranges(carried)
    source = "scipy's linprog (HiGHS)"
    off = float(np.abs(ours - theirs)[wide].max())
    name = f"{case}: greatest difference of {int(wide.sum())} ends of foot ranges, of the weight"
    check_value(name, source, "D", 0, off, abs=1e-9)
    # Supports a millionth as wide as long: the solver's tolerance is no longer 1e-9 of the weight there.
    name = f"{case}: the {len(off_exact)} ends (of {len(ours)}) that differ by more than 1e-10, off the exact value"
    check_value(name, "fractions, no rounding", "D", 0, float(np.abs(off_exact).max(initial=0)), abs=1e-9)
    assert min(parts.sum() for parts in (lines, inside, beyond, tied)) > count / 100


def is_wide(stance):
    """Whether a stance's hull is wider than what counts as a line."""
    local = stance.points - stance.points.mean(axis=0)
    scale = np.abs(local).max()
    return scale > 1e-8 and np.linalg.svd(local / scale, compute_uv=False)[1] > 1e-7


def test_stances_of_every_run(check_value):
    hold_against_peers(check_value, 2000, 20261127)


@pytest.mark.trial
def test_a_hundred_thousand_stances(check_value):
    hold_against_peers(check_value, 100_000, 7)
