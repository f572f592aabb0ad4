"""What all poses of a skeleton share: done once, kept while a bone is dragged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..build.build import Build
from ..build.parts import Bodies, Part, join_bodies, list_parts
from ..build.uncertainty import MassUncertainties, list_uncertainties
from ..build.weights import Weights, weigh_elements
from ..skeleton.joint import Joint
from ..skeleton.kinematics import Movers, find_movers
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array, apply
from ..statics.wrenches import find_preorder


@dataclass(frozen=True, eq=False)
class Branches:
    """The tree as plain arrays.

    parents : (n,) -1 for the root
    start, end : (n,) the branch of body i is the slice ``order[start[i]:end[i]]`` of the bodies
    """

    parents: np.ndarray
    order: np.ndarray
    start: np.ndarray
    end: np.ndarray


@dataclass(frozen=True, eq=False)
class ContactPoints:
    """Every point that may touch the ground: (c, 3) [m] world of the neutral articulation, (c,) foot and body."""

    points_m: Array
    foot: np.ndarray
    body: np.ndarray


@dataclass(frozen=True, eq=False)
class Prepared:
    """What depends on skeleton and build alone. World of the neutral articulation.

    weights : of the elements alone
    parts : discs and steelwork
    bodies : elements and what they carry
    X_WJ : (n, 4, 4) joint frames; the root's stands at its centre of mass, along the world
    X_WE : (n, 4, 4) element frames
    lower_m, upper_m : (n, 3) corners of the bounding boxes in the element frames
    turning : (t,) indices of the elements whose joints turn; turning_joints : these joints
    low_rad, high_rad : (n, 3) limits; NaN where not known, and for the root
    volume_m3 : of all elements
    volume_error_m3 : (n,) its error where a surface is not closed
    faulty : (n,) whether an element's surface is not closed, or empty
    """

    skeleton: Skeleton
    build: Build
    weights: Weights
    parts: tuple[Part, ...]
    bodies: Bodies
    uncertainties: MassUncertainties
    movers: Movers
    branches: Branches
    contacts: ContactPoints
    X_WJ: Array
    X_WE: Array
    lower_m: Array
    upper_m: Array
    turning: np.ndarray
    turning_joints: tuple[Joint, ...]
    low_rad: Array
    high_rad: Array
    volume_m3: float
    volume_error_m3: Array
    faulty: np.ndarray


def prepare(skeleton: Skeleton, build: Build) -> Prepared:
    """Do once what all poses share; raises SkeletonError where an element cannot be weighed."""
    weights, parts = weigh_elements(skeleton, build), list_parts(skeleton, build)
    X_WJ = np.stack([np.eye(4), *(joint.X_WJ for joint in skeleton.joints)])
    X_WJ[0, :3, 3] = weights.centre_m[0]
    limits = np.full((2, len(skeleton.elements), 3), np.nan)
    for i, joint in enumerate(skeleton.joints, start=1):
        if joint.limits is not None:
            limits[0, i] = [limit.low.angle_rad for limit in joint.limits]
            limits[1, i] = [limit.high.angle_rad for limit in joint.limits]
    solids = [element.solid for element in skeleton.elements]
    error = np.array([solid.volume_error_m3 for solid in solids], float)
    movers = find_movers(skeleton)
    turning = np.sort(movers.elements[list(movers.rows.values())[1:]])
    return Prepared(
        skeleton=skeleton,
        build=build,
        weights=weights,
        parts=parts,
        bodies=join_bodies(weights, parts),
        uncertainties=list_uncertainties(skeleton, build, weights, parts),
        movers=movers,
        branches=_find_branches(skeleton),
        contacts=_list_contact_points(skeleton),
        X_WJ=X_WJ,
        X_WE=np.stack([element.X_WE for element in skeleton.elements]),
        lower_m=np.stack([solid.lower_m for solid in solids]),
        upper_m=np.stack([solid.upper_m for solid in solids]),
        turning=turning,
        turning_joints=tuple(skeleton.joints[i - 1] for i in turning.tolist()),
        low_rad=limits[0],
        high_rad=limits[1],
        volume_m3=sum(solid.volume_m3 for solid in solids),
        volume_error_m3=error,
        faulty=(error > 0) | np.array([bool({"open", "empty"} & set(solid.states)) for solid in solids]),
    )


def _find_branches(skeleton: Skeleton) -> Branches:
    parents = skeleton.parents
    order, ends = find_preorder(parents)
    start, end = np.empty(len(parents), int), np.empty(len(parents), int)
    start[order], end[order] = np.arange(len(parents)), ends
    return Branches(parents, order, start, end)


def _list_contact_points(skeleton: Skeleton) -> ContactPoints:
    points, foot, body = [np.zeros((0, 3))], [], []
    for f, declared in enumerate(skeleton.feet):
        for contact in declared.contacts:
            i = skeleton.index(contact.element)
            points.append(apply(skeleton.elements[i].X_WE, np.asarray(contact.points_m, float).reshape(-1, 3)))
            foot += [f] * len(contact.points_m)
            body += [i] * len(contact.points_m)
    return ContactPoints(np.concatenate(points), np.array(foot, int), np.array(body, int))
