"""Elements and joints put into one tree."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.skeleton.joint import AxisLimit, Stop
from core_calcs.skeleton.tree import Contact, Foot, build_skeleton
from core_calcs.spatial.errors import SkeletonError


@pytest.fixture
def skeleton(random_skeletons, rng):
    return random_skeletons.make_random_skeleton(12, rng)


def test_any_order_gives_parents_first(skeleton, rng):
    elements, joints = list(skeleton.elements), list(skeleton.joints)
    rng.shuffle(elements)
    rng.shuffle(joints)
    again = build_skeleton("s", tuple(elements), tuple(joints), skeleton.feet)
    assert again.root.name == "e0"
    assert all(parent < i for i, parent in enumerate(again.parents))
    for i, joint in enumerate(again.joints, start=1):
        assert joint.child == again.elements[i].name
        assert joint.parent == again.elements[again.parents[i]].name
        assert again.joint_of(joint.child) is joint


def test_names_that_are_not_there_are_refused(skeleton):
    for look_up in (skeleton.index, skeleton.joint_of):
        with pytest.raises(SkeletonError, match="nobody"):
            look_up("nobody")
    with pytest.raises(SkeletonError, match="root"):
        skeleton.joint_of("e0")


def spoil(skeleton, **changes):
    """The same elements and joints with one fault."""
    parts = {"elements": skeleton.elements, "joints": skeleton.joints, "feet": skeleton.feet}
    return build_skeleton("s", **{**parts, **changes})


def test_contradictions_are_refused(skeleton):
    elements, joints = skeleton.elements, skeleton.joints
    first, *rest = joints
    scaled = elements[3].X_WE.copy()
    scaled[:3, :3] *= 2
    mirrored = first.X_WJ.copy()
    mirrored[:3, 0] *= -1
    beyond = AxisLimit(Stop(0.1, "by hand", None), Stop(0.2, "by hand", None))
    faults = {
        "two elements": {"elements": (*elements, elements[3])},
        "rigid": {"elements": (*elements[:3], replace(elements[3], X_WE=scaled), *elements[4:])},
        "no element 'nobody'": {"joints": (replace(first, parent="nobody"), *rest)},
        "two joints": {"joints": (*joints, first)},
        "no parent": {"joints": tuple(rest)},
        "no element is the root": {"joints": (*joints, replace(first, parent="e5", child="e0"))},
        "right-handed": {"joints": (replace(first, X_WJ=mirrored), *rest)},
        "senses": {"joints": (replace(first, senses=(1, 0, 1)), *rest)},
        "neutral angle": {"joints": (replace(first, limits=(beyond,) * 3), *rest)},
        "'nobody' is not there": {"feet": (Foot("f", (Contact("nobody", np.zeros((1, 3))),)),)},
    }
    for told, fault in faults.items():
        with pytest.raises(SkeletonError, match=told):
            spoil(skeleton, **fault)


def test_circle_beside_the_tree_is_refused(random_skeletons, skeleton):
    solid = random_skeletons.make_solid(0.01, np.zeros(3), np.ones(3))
    pair = tuple(random_skeletons.make_element(name, solid, np.eye(4)) for name in ("a", "b"))
    circle = (random_skeletons.make_joint("a", "b", np.eye(4)), random_skeletons.make_joint("b", "a", np.eye(4)))
    with pytest.raises(SkeletonError, match="circle: a, b"):
        spoil(skeleton, elements=(*skeleton.elements, *pair), joints=(*skeleton.joints, *circle))
