"""The skeleton: one tree of elements held together by joints, and the feet it stands on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, is_rigid
from .element import Element
from .joint import AxisLimit, Envelope, Joint

FootOrigin = Literal["proposed", "by hand"]


@dataclass(frozen=True, eq=False)
class Contact:
    """Points of one element that may touch the ground: (n, 3) in the element's frame E [m]."""

    element: str
    points_m: Array


@dataclass(frozen=True, eq=False)
class Foot:
    """What stands on the ground as one: a foot, the end of a tail, a column.

    origin : proposed from the limbs, or named by the user
    """

    name: str
    contacts: tuple[Contact, ...]
    origin: FootOrigin = "proposed"


@dataclass(frozen=True)
class LeftOut:
    """A file or body that is not part of the skeleton, and why."""

    file: str
    body: int | None
    reason: str


@dataclass(frozen=True, eq=False)
class Skeleton:
    """Elements in tree order (the root first, every parent before its children), one joint for each but the root.

    joints[i] belongs to elements[i + 1], its child.
    """

    name: str
    elements: tuple[Element, ...]
    joints: tuple[Joint, ...]
    feet: tuple[Foot, ...]
    left_out: tuple[LeftOut, ...]

    @property
    def root(self) -> Element:
        """The element that everything else hangs on."""
        return self.elements[0]

    def index(self, name: str) -> int:
        """Index of the element of that name; SkeletonError where there is none."""
        if name in self._places:
            return self._places[name]
        if not name:
            raise SkeletonError("element", "none is named", "choose one")
        raise SkeletonError(name, "no element of that name is in the skeleton", "check the spelling, or the table")

    @cached_property
    def _places(self) -> dict[str, int]:
        return {element.name: i for i, element in enumerate(self.elements)}

    def joint_of(self, child: str) -> Joint:
        """The joint that holds a child; SkeletonError for the root or an unknown name."""
        i = self.index(child)
        if i == 0:
            raise SkeletonError(child, "the root has no joint", "place it through the pose's placement")
        return self.joints[i - 1]

    def foot_index(self, name: str) -> int:
        """Index of the foot of that name; SkeletonError where there is none."""
        for i, foot in enumerate(self.feet):
            if foot.name == name:
                return i
        known = ", ".join(foot.name for foot in self.feet) or "none"
        raise SkeletonError(name, "nothing of that name touches the ground", f"these do: {known}")

    @property
    def parents(self) -> np.ndarray:
        """(n,) index of each element's parent, -1 for the root."""
        return np.array([-1, *(self._places[joint.parent] for joint in self.joints)])


def build_skeleton(
    name: str,
    elements: tuple[Element, ...],
    joints: tuple[Joint, ...],
    feet: tuple[Foot, ...] = (),
    left_out: tuple[LeftOut, ...] = (),
) -> Skeleton:
    """Put elements and joints, in any order, into one tree.

    Raises
    ------
    SkeletonError : no root or several, a loop, a joint or foot that names what is not there, a name used twice,
        a frame that is not rigid, limits that do not straddle zero
    """
    by_name: dict[str, Element] = {}
    for element in elements:
        if element.name in by_name:
            raise SkeletonError(element.name, "two elements have this name", "rename one of them in the table")
        if not is_rigid(element.X_WE):
            raise SkeletonError(element.name, "its placement is not a rigid transform", "remove scale and shear")
        by_name[element.name] = element
    by_child: dict[str, Joint] = {}
    for joint in joints:
        _check_joint(joint, by_name)
        if joint.child in by_child:
            raise SkeletonError(joint.child, "it hangs on two joints", "keep one parent")
        by_child[joint.child] = joint
    _check_feet(feet, by_name)
    order = _tree_order(by_name, by_child)
    for joint in joints:
        if joint.also is not None:
            _check_second(joint, joint.also, by_name, by_child)
    return Skeleton(
        name, tuple(by_name[n] for n in order), tuple(by_child[n] for n in order[1:]), tuple(feet), tuple(left_out)
    )


def _check_feet(feet: tuple[Foot, ...], by_name: dict[str, Element]) -> None:
    names = [foot.name for foot in feet]
    for i, foot in enumerate(feet):
        if foot.name in names[:i]:
            raise SkeletonError(foot.name, "two feet have this name", "rename one of them")
        for contact in foot.contacts:
            if contact.element not in by_name:
                raise SkeletonError(foot.name, f"its element {contact.element!r} is not there", "correct the foot")


def _check_joint(joint: Joint, by_name: dict[str, Element]) -> None:
    for end in (joint.parent, joint.child):
        if end not in by_name:
            raise SkeletonError(f"joint of {joint.child}", f"there is no element {end!r}", "correct the table")
    if not is_rigid(joint.X_WJ):
        raise SkeletonError(f"joint of {joint.child}", "its frame is not right-handed and orthonormal", "set it again")
    for mark in joint.marks:
        if mark.element not in (joint.parent, joint.child):
            what = f"a facet is marked on {mark.element!r}, which is neither of its elements"
            raise SkeletonError(f"joint of {joint.child}", what, "mark it again")
    if any(sense not in (1, -1) for sense in joint.senses):
        raise SkeletonError(f"joint of {joint.child}", "its senses are not +1 or -1", "set it again")
    for limit in joint.limits or ():
        if not limit.low.angle_rad <= 0 <= limit.high.angle_rad:
            raise SkeletonError(f"joint of {joint.child}", "a limit does not include the neutral angle", "widen it")
    if joint.envelope is not None and not _lies_about_neutral(joint.envelope, joint.limits):
        what = "its envelope does not lie about the neutral attitude, or is there without limits"
        raise SkeletonError(f"joint of {joint.child}", what, "set it to null, or articulate again")


def _lies_about_neutral(envelope: Envelope, limits: Sequence[AxisLimit] | None) -> bool:
    """Of one axis, where the joint is held at neutral, it may have no part."""
    scale = envelope.scale_rad
    flat = [axis for axis in range(3) if not scale[axis].any()]
    turned = np.delete(scale, flat, axis=0)
    return (
        limits is not None
        and len(flat) <= 1
        and all(limits[axis].low.angle_rad == limits[axis].high.angle_rad == 0 for axis in flat)
        and bool(((turned[:, 0] < 0) & (turned[:, 1] > 0)).all() and (envelope.shares >= 0).all())
    )


def _check_second(joint: Joint, also: str, by_name: dict[str, Element], by_child: dict[str, Joint]) -> None:
    """What an element straddles besides its parent must move without it, and without another that straddles."""
    where = f"joint of {joint.child}"
    if also not in by_name:
        raise SkeletonError(where, f"it straddles {also!r}, which is not there", "name an element")
    if joint.moves:
        raise SkeletonError(where, f"it turns, and cannot straddle {also} too", "fix it, or let it follow one element")
    if also == joint.parent:
        raise SkeletonError(where, f"both elements that it straddles are {also}", "name the other one")
    above: str | None = also
    while above is not None:
        own = by_child.get(above)
        if own is not None and own.also is not None:
            what = f"it straddles {also}, which hangs on {own.child}, which straddles two elements itself"
            raise SkeletonError(where, what, "name an element that hangs on none of those")
        above = own.parent if own is not None else None


def _tree_order(by_name: dict[str, Element], by_child: dict[str, Joint]) -> list[str]:
    roots = [name for name in by_name if name not in by_child]
    if len(roots) != 1:
        what = "no element is the root" if not roots else f"several elements have no parent: {', '.join(roots)}"
        raise SkeletonError("skeleton", what, "give every element but one a parent in the table")
    children: dict[str, list[str]] = {name: [] for name in by_name}
    for child, joint in by_child.items():
        children[joint.parent].append(child)
    order, waiting = [], roots
    while waiting:
        name = waiting.pop()
        order.append(name)
        waiting.extend(reversed(children[name]))
    if len(order) != len(by_name):
        lost = ", ".join(sorted(set(by_name) - set(order)))
        raise SkeletonError("skeleton", f"the parents of these elements run in a circle: {lost}", "correct the table")
    return order
