"""A skeleton made ready for posing: its chains, its joints' ranges, what moves with what. Done once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from ..skeleton.joint import Joint
from ..skeleton.kinematics import Movers, find_movers, move_elements
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, apply
from .bounds import Bounds, make_bounds


@dataclass(frozen=True)
class Chain:
    """Joints one after the other, from the trunk outwards: neck, tail, a limb; the trunk from the tail to the neck.

    children : by which the joints are named, from the base to the tip
    base, tip : the elements before the first joint and beyond the last
    """

    name: str
    kind: str
    children: tuple[str, ...]
    base: str
    tip: str


@dataclass(frozen=True, eq=False)
class Posing:
    """What every posing function takes: kept for as long as the skeleton stays the same.

    rows : index of each joint in the skeleton, by its child
    bounds : the ranges of all joints, in the skeleton's order
    size_m : diagonal of the box about the elements' centres in the neutral articulation
    """

    skeleton: Skeleton
    chains: tuple[Chain, ...]
    movers: Movers
    rows: dict[str, int]
    bounds: Bounds
    size_m: float

    @cached_property
    def X_WE(self) -> Array:
        """(n, 4, 4) of every element in the neutral articulation."""
        return np.stack([element.X_WE for element in self.skeleton.elements])

    def index(self, element: str) -> int:
        """Index of an element, looked up; SkeletonError where there is none of that name."""
        return self.rows[element] + 1 if element in self.rows else self.skeleton.index(element)

    def find_joint(self, child: str) -> Joint:
        """The joint that holds a child; SkeletonError of the root or an unknown name."""
        return self.skeleton.joints[self.find_row(child)]

    def place(self, pose: Pose) -> Array:
        """(n, 4, 4) X_WE of every element in a pose: as `place_elements`, from what is kept."""
        return move_elements(self.skeleton, self.movers, pose) @ self.X_WE

    def find_chain(self, name: str) -> Chain:
        """The chain of that name; SkeletonError where there is none."""
        for chain in self.chains:
            if chain.name == name:
                return chain
        known = ", ".join(chain.name for chain in self.chains) or "none"
        raise SkeletonError(name, "no chain has that name", f"these are there: {known}")

    def find_row(self, child: str) -> int:
        """Index of a child's joint; SkeletonError of the root or an unknown name."""
        if child not in self.rows:
            self.skeleton.joint_of(child)
        return self.rows[child]


def make_posing(skeleton: Skeleton, chains: Sequence[Chain]) -> Posing:
    """A skeleton made ready; chains : as they are offered by name."""
    centres = np.array([apply(e.X_WE, e.solid.centre_m[None])[0] for e in skeleton.elements])
    rows = {joint.child: i for i, joint in enumerate(skeleton.joints)}
    size = float(np.linalg.norm(np.ptp(centres, axis=0))) or 1.0
    return Posing(skeleton, tuple(chains), find_movers(skeleton), rows, make_bounds(skeleton.joints), size)


def find_ends(joints: Sequence[Joint]) -> tuple[str, str]:
    """The elements before the first joint and beyond the last; the child of a single one is beyond it."""
    pairs = [{joint.parent, joint.child} for joint in joints]
    if len(pairs) == 1:
        return joints[0].parent, joints[0].child
    shared = [one & other for one, other in pairwise(pairs)]
    return next(iter(pairs[0] - shared[0])), next(iter(pairs[-1] - shared[-1]))


def take_part(posing: Posing, chain: Chain, first: str = "", last: str = "") -> Chain:
    """Part of a chain as a chain: from one joint to another, by their children, either way round; "" for its own end.

    Raises
    ------
    SkeletonError : one of them is no joint of the chain
    """
    for child in filter(None, (first, last)):
        if child not in chain.children:
            known = f"take one of {chain.children[0]} to {chain.children[-1]}"
            raise SkeletonError(child, f"it has no joint in {chain.name}", known)
    places = {child: place for place, child in enumerate(chain.children)}
    begin, end = sorted((places[first or chain.children[0]], places[last or chain.children[-1]]))
    children = chain.children[begin : end + 1]
    if children == chain.children:
        return chain
    several = f"{children[0]} to {children[-1]}" if len(children) > 1 else children[0]
    joints = [posing.skeleton.joint_of(child) for child in chain.children]
    ends = find_ends(joints[begin:])[0], find_ends(joints[: end + 1])[1]
    return Chain(f"{chain.name}, {several}", chain.kind, children, *ends)


def list_turning(posing: Posing, children: Iterable[str], unknown: bool = False) -> tuple[str, ...]:
    """Those of these joints that a tool may turn: they move, and their limits are known, or it is asked for.

    Raises
    ------
    SkeletonError : a child that has no joint
    """
    bounds = posing.bounds
    rows = [(child, posing.find_row(child)) for child in children]
    return tuple(child for child, i in rows if bounds.moves[i] and (unknown or bounds.known[i]))


def read_joints(posing: Posing, pose: Pose, children: Sequence[str]) -> Array:
    """(n, 3) the angles of joints in a pose; SkeletonError of a pose that keeps places as mounted."""
    if pose.mounted:
        what = "it keeps places as mounted, not angles of joints"
        raise SkeletonError(f"pose {pose.name}", what, "turn the joints of another pose")
    none = (0.0, 0.0, 0.0)
    return np.array([pose.angles_rad.get(child, none) for child in children], float).reshape(-1, 3)


def write_joints(pose: Pose, children: Sequence[str], angles_rad: Array, X_WN: Array | None = None) -> Pose:
    """The pose with these joints at other angles (n, 3), and the whole elsewhere; joints at neutral are not named."""
    angles = dict(pose.angles_rad)
    for child, own in zip(children, np.asarray(angles_rad, float), strict=True):
        angles[child] = own + 0.0  # no zero has a sign
        if not own.any():
            del angles[child]
    X = pose.X_WN if X_WN is None else X_WN
    return Pose(pose.name, angles, X, pose.note, pose.idle_feet)
