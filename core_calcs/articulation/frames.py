"""Joint frames: centre, axes and senses of a column joint; joints set by hand; where fixed ones are cut."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..spatial.transforms import Array, make_transform
from .balls import fit_ball
from .column import ColumnAxes
from .deformations import find_egg, tell_egg
from .facets import Patch
from .fits import Fit
from .limb_facets import grow_on_fit
from .patches import Index
from .spheres import Sphere, fit_sphere

_BALL_ARC_RAD = float(np.radians(40))
_BALL_RESIDUAL_S = 0.02
_BALL_RADII = 1.5
"""A cotyle may be so many times wider or narrower than its ball."""
_ROUNDS, _STEP, _TOLERANCE = 3, 0.35, 2.5
_LEAST_TOLERANCE, _MOST_RESIDUAL = 0.02, 0.05
"""A ball is followed over its bone as those of limbs are (`families`): lengths are shares of its radius."""


@dataclass(frozen=True, eq=False)
class JointFrame:
    """X_WJ (4, 4) and senses as in `skeleton.joint`.

    how : says in words where the centre comes from; objection : what speaks against it, none where nothing does
    ball : (n, 3) points of the condyle that it was fitted to; None where it turns about none
    """

    X_WJ: Array
    senses: tuple[int, int, int]
    how: str
    objection: str = ""
    ball: Array | None = None


def column_frame(on_parent: Patch, on_child: Patch, axes: ColumnAxes, child_headward: bool, size: float) -> JointFrame:
    """Frame of a column joint from its two end plates.

    y runs along the column away from the parent. For a child towards the head x is the animal's left and z = x × y
    looks ventrally, so that turning about z takes the child to the right: lateral sense -1. For a child towards the
    tail x is the animal's right, z again ventral, and turning about z takes the child to the left: +1.
    """
    ball, objection, points = find_ball(on_parent, on_child, size), "", None
    if ball is not None:
        centre, how, objection, points = _follow_ball(*ball)
    else:
        centre = (on_parent.points.mean(axis=0) + on_child.points.mean(axis=0)) / 2
        how = "turns about the middle of the disc"
    sign = 1.0 if child_headward else -1.0
    x, y = sign * axes.left, sign * axes.head
    return JointFrame(
        make_transform(np.column_stack([x, y, np.cross(x, y)]), centre), (1, -1 if child_headward else 1, 1), how,
        objection, points,
    )  # fmt: skip


def find_ball(on_parent: Patch, on_child: Patch, size: float) -> tuple[Patch, Sphere] | None:
    """The condyle and its sphere where the end plates are a ball and a cotyle: round, deep enough, of like radius.

    The end plates of flat-ended vertebrae fit spheres of wide and unstable radius: those are refused by their arc.
    """
    first, second = (fit_sphere(patch.points, patch.normal) for patch in (on_parent, on_child))
    if first is None or second is None or first.convex == second.convex:
        return None
    ball, cotyle = (first, second) if first.convex else (second, first)
    condyle = on_parent if first.convex else on_child
    deep = ball.arc >= _BALL_ARC_RAD and cotyle.arc >= _BALL_ARC_RAD / 2
    round_enough = ball.residual <= _BALL_RESIDUAL_S * size and cotyle.residual <= 2 * _BALL_RESIDUAL_S * size
    alike = 1 / _BALL_RADII <= cotyle.radius / ball.radius <= _BALL_RADII
    return (condyle, ball) if deep and round_enough and alike else None


def _follow_ball(condyle: Patch, ball: Sphere) -> tuple[Array, str, str, Array]:
    """Its centre (3,), words on it, what speaks against it and its points (n, 3), with the ball followed over its bone.

    An end plate is taken no farther than it faces its partner; a ball often runs on, and the more of it is seen the
    better its centre is known. Of one that has been deformed the middle of the ellipsoid is the centre.
    """
    points, normals = condyle.points, condyle.element.samples.normals[condyle.index]
    fit = fit_ball(points, normals)
    if fit is None:
        return ball.centre, f"turns about the condyle, radius {ball.radius * 1e3:.1f} mm", "", points
    fit, points = _grow_ball(condyle, fit)
    how = f"turns about the condyle, radius {fit.radius * 1e3:.1f} mm"
    egg = find_egg(points, fit)
    if egg is None:
        return fit.centre, how, "", points
    return egg.centre, "turns about the middle of the condyle", f"the condyle: {tell_egg(egg, fit)}", points


def _grow_ball(condyle: Patch, fit: Fit) -> tuple[Fit, Array]:
    """The ball and its points (n, 3) grown together: what lies on it joins, and it is fitted again."""
    samples = condyle.element.samples
    pieces: tuple[Index, ...] = (condyle.index,)
    off = max(fit.residual, _LEAST_TOLERANCE * fit.radius)
    for _ in range(_ROUNDS):
        wider = grow_on_fit(condyle.element, pieces, fit, _TOLERANCE * off, _STEP * fit.radius)
        again = fit_ball(samples.points[wider[0]], samples.normals[wider[0]])
        if again is None or again.residual > max(1.5 * off, _MOST_RESIDUAL * fit.radius):
            break
        fit, pieces = again, wider
    return fit, samples.points[pieces[0]]


def find_cut(parent_points: Array, child_points: Array) -> Array:
    """Where two elements come closest (3,) [m]: the mean of the middles of the closest hundredth of the pairs.

    A mean, not the single closest pair, so that one loose point does not decide.
    """
    few = max(1, len(child_points) // 100)
    tree = cKDTree(parent_points)
    low, high = parent_points.min(axis=0), parent_points.max(axis=0)
    outside = np.linalg.norm(np.maximum(0, np.maximum(low - child_points, child_points - high)), axis=1)
    likely = np.argpartition(outside, few - 1)[:few]
    reach = float(np.max(tree.query(child_points[likely])[0]))  # so many points lie within it: none beyond counts
    points = child_points[outside <= reach]
    found = tree.query(points, distance_upper_bound=1.001 * reach or np.inf)
    distance, nearest = (np.asarray(part) for part in found)
    closest = np.argsort(distance, kind="stable")[:few]
    middle: Array = ((points[closest] + parent_points[nearest[closest]]) / 2).mean(axis=0)
    return middle


def fixed_frame(centre: Array) -> Array:
    """X_WJ (4, 4) of a fixed joint: at its cut, along the world's axes."""
    return make_transform(np.eye(3), centre)
