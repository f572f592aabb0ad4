"""A skeleton whose column stands where a chain has it: what hangs on it gone along, the whole set upright."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from scipy.spatial.transform import Rotation

from ..articulation.chain import PlacedChain
from ..articulation.midplanes import Midplane
from ..skeleton.motions import move_skeleton
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array, apply, invert, make_transform, round_places
from .articulate import lies_headward

_ASKEW_RAD = float(np.radians(45))
_STILL = 1e-13


def find_upright(
    skeleton: Skeleton, chain: PlacedChain, links: Mapping[str, str], midplanes: Mapping[str, Midplane | None]
) -> Array | None:
    """(4, 4) that turns the whole so that x looks to the head and y to the left; None where it stands so within 45°.

    Of loose elements the first stands as its scanner had it, which may be in any way. Where its left is not known it
    stays so.

    Parameters
    ----------
    links : parent by child, of the column; midplanes : by element, in its own frame
    """
    top = next(parent for parent in links.values() if parent not in links)
    plane = midplanes.get(top)
    if plane is None or not plane.sided:
        return None
    by_name = {element.name: element for element in skeleton.elements}
    centres = {name: apply(X, by_name[name].solid.centre_m[None])[0] for name, X in chain.X_WE.items()}
    head = np.zeros(3)
    for child, parent in links.items():
        if parent == top:
            way = centres[child] - centres[top]
            head += way / np.linalg.norm(way) * (1 if lies_headward(by_name[child], by_name[top]) else -1)
    x = head / max(float(np.linalg.norm(head)), 1e-12)
    left = chain.X_WE[top][:3, :3] @ plane.normal
    y = left - (left @ x) * x
    y /= max(float(np.linalg.norm(y)), 1e-12)
    R = np.stack([x, y, np.cross(x, y)])
    if Rotation.from_matrix(R).magnitude() <= _ASKEW_RAD:
        return None
    return make_transform(R, centres[top] - R @ centres[top])


def move_column(skeleton: Skeleton, chain: PlacedChain, U: Array) -> Skeleton:
    """The skeleton with its column as the chain has it, all else gone along with its parent, and the whole moved by U.

    Discs that were set have moved nothing any more: the chain stands at their thickness.
    """
    X_WE: dict[str, Array] = {}
    motions: dict[str, Array] = {}
    parents = {joint.child: joint.parent for joint in skeleton.joints}
    for element in skeleton.elements:
        name = element.name
        if name in chain.X_WE:
            D = U @ chain.X_WE[name] @ invert(element.X_WE)
        else:
            D = motions[parents[name]] if name in parents else U
        still = np.allclose(D, np.eye(4), rtol=0, atol=_STILL)
        motions[name] = np.eye(4) if still else D
        X_WE[name] = element.X_WE if still else _settle(D @ element.X_WE)
    joints = tuple(
        joint if joint.disc is None else replace(joint, disc=replace(joint.disc, shift_m=np.zeros(3)))
        for joint in skeleton.joints
    )
    return move_skeleton(replace(skeleton, joints=joints), X_WE, motions)


def carry_pose(pose: Pose, U: Array) -> Pose:
    """A pose in which all stands where it stood, after the world of the neutral articulation was moved by U."""
    if np.array_equal(U, np.eye(4)):
        return pose
    mounted = {name: _settle(U @ X) for name, X in pose.mounted.items()}
    return replace(pose, X_WN=_settle(pose.X_WN @ invert(U)), mounted=mounted)


def _settle(X: Array) -> Array:
    """A transform without what rounding has made of its axes, its place to a picometre."""
    U, _, Vt = np.linalg.svd(X[:3, :3])
    return make_transform(U @ Vt, round_places(X[:3, 3]))
