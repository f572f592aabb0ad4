"""Which elements stood elsewhere in a pose as mounted than they do since they were put right, and by how much."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from ..skeleton.discs import take_discs_out
from ..skeleton.kinematics import place_elements
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array, apply

_FINEST = 1e-9
"""Metres and radians: below that an element stood where it stands."""


@dataclass(frozen=True, eq=False)
class Moved:
    """An element that stood elsewhere.

    shift_m : (3,) from where its centre of volume stood to where that stands at neutral, world of neutral
    angle_rad : of the turn from the one to the other, 0 to pi
    X_WE : (4, 4) where it stood, in the pose's world
    """

    element: str
    shift_m: Array
    angle_rad: float
    X_WE: Array


def list_moved(skeleton: Skeleton, pose: Pose) -> tuple[Moved, ...]:
    """The elements that stood elsewhere in a pose as mounted, in the order of the skeleton; none in any other pose.

    They are held against the neutral articulation. What discs have moved since is not counted.

    Raises
    ------
    SkeletonError : the pose does not fit the skeleton
    """
    if not pose.mounted:
        return ()
    scanned = take_discs_out(skeleton)
    stood = place_elements(scanned, replace(pose, X_WN=np.eye(4)))
    found = []
    for element, X_WE in zip(scanned.elements, stood, strict=True):
        centre = np.asarray(element.solid.centre_m, float)[None]
        shift = (apply(element.X_WE, centre) - apply(X_WE, centre))[0]
        angle = float(Rotation.from_matrix(element.X_WE[:3, :3] @ X_WE[:3, :3].T).magnitude())
        if max(float(np.linalg.norm(shift)), angle) > _FINEST:
            found.append(Moved(element.name, shift, angle, pose.X_WN @ X_WE))
    return tuple(found)
