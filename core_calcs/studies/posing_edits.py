"""Whole poses changed: mirrored, one side copied to the other, blended, back to neutral, brought into the ranges."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ..posing.attitudes import Held, hold_attitude
from ..posing.blending import blend_poses as blend_poses
from ..posing.blending import turn_neutral
from ..posing.mirroring import copy_side as _copy_side
from ..posing.mirroring import mirror_pose as mirror_pose
from ..posing.posing import Posing, read_joints, write_joints
from ..skeleton.pose import Pose
from ..spatial.transforms import Array
from .posing import Goal, PlaceGoal, Reached, list_chain_joints, reach


@dataclass(frozen=True, eq=False)
class JointChange:
    """A joint that was brought into its range.

    before_rad, held : its angles (3,) before, and where it is held now and by what
    by_rad : the greatest change of an angle
    """

    child: str
    before_rad: Array
    held: Held
    by_rad: float


@dataclass(frozen=True, eq=False)
class Allowed:
    """A pose whose joints are all inside their ranges.

    changes : what was outside, in the order of the skeleton
    feet : how the feet kept their places; None where that was not asked for, or nothing had to change
    """

    pose: Pose
    changes: tuple[JointChange, ...]
    feet: Reached | None


def copy_side(posing: Posing, pose: Pose, chain: str | Sequence[str]) -> Pose:
    """The pose with the partners of a chain's joints, on the other side, turned as these are."""
    return _copy_side(posing, pose, list_chain_joints(posing, chain))


def to_neutral(posing: Posing, pose: Pose, chain: str | Sequence[str] | None = None, share: float = 1.0) -> Pose:
    """A chain, or all joints, taken back to neutral, or that share of the way there."""
    every = tuple(joint.child for joint in posing.skeleton.joints)
    return turn_neutral(posing, pose, every if chain is None else list_chain_joints(posing, chain), share)


def nearest_allowed(posing: Posing, pose: Pose, keep_feet: Iterable[str] = ()) -> Allowed:
    """Every joint outside its range brought to its nearest allowed attitude; the others as they are.

    keep_feet : feet by name, or elements, that then go back to the place and attitude they had, by the joints of the
        limbs that carry them and the whole
    """
    joints = [joint for joint in posing.skeleton.joints if joint.moves]
    children = tuple(joint.child for joint in joints)
    before = read_joints(posing, pose, children)
    held = [hold_attitude(joint, angles) for joint, angles in zip(joints, before, strict=True)]
    after = np.array([own.angles_rad for own in held]).reshape(-1, 3)
    changes = tuple(
        JointChange(child, angles, own, float(np.abs(own.angles_rad - angles).max()))
        for child, angles, own in zip(children, before, held, strict=True)
        if own.held
    )
    allowed = write_joints(pose, children, after)
    names = tuple(keep_feet)
    if not names or not changes:
        return Allowed(allowed, changes, None)
    limbs = [child for chain in posing.chains if chain.kind == "limb" for child in chain.children]
    goals: list[Goal] = []
    root = posing.skeleton.root
    goals.append(PlaceGoal(root.name, root.solid.centre_m, allowed.X_WN[:3] @ np.append(_centre(posing), 1.0)))
    feet = reach(posing, allowed, goals, limbs, held=names, root=1.0, places=pose)
    return Allowed(feet.pose, changes, feet)


def _centre(posing: Posing) -> Array:
    root = posing.skeleton.root
    centre: Array = root.X_WE[:3] @ np.append(root.solid.centre_m, 1.0)
    return centre
