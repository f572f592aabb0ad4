"""Set a pose down on the ground: on as many feet as it can."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import ConvexHull, QhullError

from ..site.site import Site
from ..skeleton.kinematics import joint_motions
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, make_transform
from ..statics.supports import list_supports

GREATEST_TILT_RAD = 0.2617993877991494
"""15°: a pose that needs more to come down on its feet is another pose."""


@dataclass(frozen=True, eq=False)
class Standing:
    """How a pose was set down.

    pose : the same angles, the whole moved
    feet : names of the feet that stand, those within the site's contact tolerance of the ground
    lift_m : how far the lowest point was moved up (> 0) or down
    tilt_rad : how far the whole was tilted
    tolerance_m : the contact tolerance that was used
    """

    pose: Pose
    feet: tuple[str, ...]
    lift_m: float
    tilt_rad: float
    tolerance_m: float


def stand_pose(skeleton: Skeleton, pose: Pose, site: Site, level: bool = False) -> Pose:
    """The pose set down on the ground: see `find_standing`."""
    return find_standing(skeleton, pose, site, level).pose


def find_standing(skeleton: Skeleton, pose: Pose, site: Site, level: bool = False) -> Standing:
    """Move the whole until the lowest point of the feet that bear touches the ground, and none of them is below it.

    Every foot has the ground of its footing. Where the feet do not end in one plane with it, those within the site's
    contact tolerance count as standing: on a mount the difference is taken up by grout or shims under the feet. A
    tolerance of about half a percent of the body's height does for bones that were laid out by eye (common practice, no
    source).

    Parameters
    ----------
    level : tilt as well, by the smallest rotation after which the most feet stand; no more than `GREATEST_TILT_RAD`

    Raises
    ------
    SkeletonError : the skeleton has no points that may touch the ground, or the pose lets none of its feet bear
    """
    points, foot = _place_points(skeleton, pose)
    ground = site.ground_m + list_supports([own.name for own in skeleton.feet], site.footings).height_m[foot]
    bearing = len(skeleton.feet) - len(set(pose.idle_feet))
    middle = points.mean(axis=0)
    best = _set_down(np.eye(3), points, middle, foot, ground, site)
    tilt = 0.0
    if level and len(best[1]) < bearing:
        # Over uneven ground the tilts are those of the points seen from their own ground: near enough to be tried.
        for R, angle in _list_tilts(points - ground[:, None] * [0, 0, 1]):
            # The smallest tilts come first: a greater one has to bring down more feet.
            trial = _set_down(R, points, middle, foot, ground, site)
            if len(trial[1]) > len(best[1]):
                best, tilt = trial, angle
    X_move, standing = best
    lift = float((ground - points[:, 2]).max())
    return Standing(
        pose=replace(pose, X_WN=X_move @ pose.X_WN),
        feet=tuple(skeleton.feet[f].name for f in standing.tolist()),
        lift_m=lift,
        tilt_rad=tilt,
        tolerance_m=site.contact_tolerance_m,
    )


def _place_points(skeleton: Skeleton, pose: Pose) -> tuple[Array, np.ndarray]:
    """All points of the feet that bear (c, 3) in the pose, and whose they are (c,)."""
    X_WE = joint_motions(skeleton, pose) @ np.stack([element.X_WE for element in skeleton.elements])
    points, foot = [], []
    idle = {skeleton.foot_index(name) for name in pose.idle_feet}
    for f, declared in enumerate(skeleton.feet):
        if f in idle:
            continue
        for contact in declared.contacts:
            X = X_WE[skeleton.index(contact.element)]
            own = np.asarray(contact.points_m, float).reshape(-1, 3)
            points.append(own @ X[:3, :3].T + X[:3, 3])
            foot += [f] * len(own)
    if not foot and idle:
        raise SkeletonError(f"pose {pose.name}", "it lets none of the feet bear", "let one bear")
    if not foot:
        raise SkeletonError(skeleton.name, "it has no feet, so it cannot be set down", "mark what touches the ground")
    return np.concatenate(points), np.array(foot)


def _set_down(
    R: Array, points: Array, middle: Array, foot: np.ndarray, ground: Array, site: Site
) -> tuple[Array, np.ndarray]:
    """The motion (4, 4) that turns about the middle and sets down on the ground (c,) under each point, and the feet
    that then stand."""
    turned = (points - middle) @ R.T + middle
    above = turned[:, 2] - ground
    X_move = make_transform(R, middle - R @ middle + [0, 0, -above.min()])
    stands = above - above.min() <= site.contact_tolerance_m
    return X_move, np.unique(foot[stands])


def _list_tilts(points: Array) -> list[tuple[Array, float]]:
    """Rotations that lay a face of the points' lower hull on the ground, and their angles, the smallest first."""
    local = points - points.mean(axis=0)
    try:
        normals = ConvexHull(local / (np.abs(local).max() or 1.0)).equations[:, :3]
    except (QhullError, ValueError):
        normals = _plane_normal(local)
    tilts = []
    for n in np.unique(np.round(normals, 12), axis=0):
        angle = float(np.arctan2(np.hypot(n[0], n[1]), -n[2]))
        if angle <= GREATEST_TILT_RAD:
            tilts.append((_turn_down(n / np.linalg.norm(n)), angle))
    return sorted(tilts, key=lambda tilt: tilt[1])


def _plane_normal(local: Array) -> Array:
    """Both normals (2, 3) of the plane of points that span no volume."""
    n = np.linalg.svd(local)[2][-1]
    return np.stack([n, -n])


def _turn_down(n: Array) -> Array:
    """The smallest rotation (3, 3) that turns the unit vector n to straight down; n must not point straight up."""
    v = np.array([-n[1], n[0], 0.0])
    K = np.array([[0, -v[2], v[1]], [v[2], 0, -v[0]], [-v[1], v[0], 0]])
    R: Array = np.eye(3) + K + K @ K / (1 - n[2])
    return R
