"""How far a joint's centre and axes may be believed, and what they rest on.

Where a surface was fitted it is the jackknife's standard error (Efron & Tibshirani 1993, chapter 11): the surface is
fitted again with each sixth of it left out. Where centre and axes come from two readings that know nothing of each
other, half of what lies between two places, and the angle between two directions over √2, are the standard errors of
their mean and of either.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from ..skeleton.joint import FrameUncertainty
from ..spatial.transforms import Array
from .column import ColumnAxes
from .facets import Patch
from .patches import Index
from .spheres import fit_sphere

SECTORS = 6


def find_column_uncertainty(
    ball: Array | None, on_parent: Patch, on_child: Patch, pairs: Sequence[tuple[Patch, Patch]], axes: ColumnAxes
) -> FrameUncertainty:
    """Of a joint of the column, from its two end plates.

    *About the middle of the disc*: across the column the middles of the two end plates are two readings of where it
    turns. Along it the centre may lie anywhere in the disc: an even spread over its thickness.
    *About a condyle*: the ball fitted with sixths left out, and against the cotyle's centre. The greater counts: what
    bends the whole ball shows in no sixth, but the cotyle was not fitted.

    Parameters
    ----------
    ball : (n, 3) points of the condyle that the centre was fitted to; None where it turns about none
    pairs : of facets, the end plates among them
    """
    if ball is not None:
        centre_m, rests_on = _find_ball_uncertainty(ball, on_parent, on_child), "the ball, held against its cotyle"
    else:
        centre_m, rests_on = _find_disc_uncertainty(on_parent, on_child, axes), "the two end plates"
    axes_rad = _find_axes_uncertainty(on_parent, on_child, pairs, axes)
    return FrameUncertainty(centre_m, axes_rad, f"{rests_on}; the line between the elements' centres")


def _find_disc_uncertainty(on_parent: Patch, on_child: Patch, axes: ColumnAxes) -> float:
    apart = on_child.points.mean(axis=0) - on_parent.points.mean(axis=0)
    thickness = float(apart @ axes.head)
    across = float(np.linalg.norm(apart - axes.head * thickness))
    return float(np.hypot(across / 2, thickness / np.sqrt(12)))


def _find_ball_uncertainty(ball: Array, on_parent: Patch, on_child: Patch) -> float | None:
    fits = [(patch, fit_sphere(patch.points, patch.normal)) for patch in (on_parent, on_child)]
    cotyle = next((fit for _, fit in fits if fit is not None and not fit.convex), None)
    condyle = next((patch for patch, fit in fits if fit is not None and fit.convex), None)
    whole = None if condyle is None else fit_sphere(ball, condyle.normal)
    if condyle is None or cotyle is None or whole is None:
        return None
    normal = condyle.normal
    sectors = cut_sectors(ball, whole.centre, normal)
    left_out = leave_out(np.arange(len(ball)), sectors, lambda index: _find_centre(ball[index], normal))
    between = float(np.linalg.norm(whole.centre - cotyle.centre)) / 2
    return None if left_out is None else max(between, left_out)


def _find_axes_uncertainty(
    on_parent: Patch, on_child: Patch, pairs: Sequence[tuple[Patch, Patch]], axes: ColumnAxes
) -> float:
    """Standard error of a column joint's axes [rad], by two comparisons of readings.

    The line between the elements' centres is held against the way the end plates look; about it, the animal's left
    against the line between the zygapophyses of both sides.
    """
    looks = on_parent.normal - on_child.normal
    angles = [find_angle(looks * np.sign(looks @ axes.head), axes.head)]
    middles = {pair[0].kind: (pair[0].points.mean(axis=0) + pair[1].points.mean(axis=0)) / 2 for pair in pairs}
    left, right = middles.get("left zygapophysis"), middles.get("right zygapophysis")
    if left is not None and right is not None:
        line = left - right
        angles.append(find_angle(line - axes.head * float(line @ axes.head), axes.left))
    return float(np.linalg.norm(angles) / np.sqrt(2))


def leave_out(index: Index, sectors: Array, find: Callable[[Index], Array | None]) -> float | None:
    """Jackknife's standard error of what is found, each sector of the samples left out; None: nothing pins it down.

    sectors : (n,) in which each of the samples lies
    find : what is found (k,) of some of the samples; None where that is nothing
    """
    found = [find(index[sectors != sector]) for sector in range(SECTORS) if (sectors == sector).any()]
    known = [one for one in found if one is not None]
    if len(known) < max(2, len(found)):
        return None
    moved = np.array(known) - np.mean(known, axis=0)
    return float(np.sqrt((len(known) - 1) / len(known) * (moved**2).sum()))


def cut_sectors(points: Array, place: Array, axis: Array) -> Array:
    """Which of six equal sectors about an axis (3,) through a place (3,) each of the points (n, 3) lies in."""
    across = np.linalg.svd(axis[None, :])[2][1:]
    flat = (points - place) @ across.T
    turn = np.arctan2(flat[:, 1], flat[:, 0]) % (2 * np.pi)
    sectors: Array = np.minimum((turn / (2 * np.pi) * SECTORS).astype(np.int64), SECTORS - 1)
    return sectors


def _find_centre(points: Array, normal: Array) -> Array | None:
    sphere = fit_sphere(points, normal)
    return None if sphere is None else sphere.centre


def find_angle(one: Array, other: Array) -> float:
    """Between two directions (3,) of any length [rad]."""
    cosine = float(one @ other) / max(float(np.linalg.norm(one) * np.linalg.norm(other)), 1e-300)
    return float(np.arccos(np.clip(cosine, -1, 1)))
