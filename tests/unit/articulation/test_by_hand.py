"""Joints set by the user."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.articulation.by_hand import fix_joint, set_joint
from core_calcs.articulation.column_joint import attach_fixed
from core_calcs.mesh.solid import Solid
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.joint import Envelope
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.errors import SkeletonError

HINGE = ((0.0, 1.5), (0.0, 0.0), (0.0, 0.0))


def element(name):
    solid = Solid(1.0, 0.0, np.zeros(3), np.eye(3), -np.ones(3), np.ones(3), 12, ("closed",))
    return Element(
        name, "limb", None, "left", "not known", Source(f"{name}.stl", None, 1.0, "0" * 64), solid, np.eye(4)
    )


@pytest.fixture
def skeleton():
    points = np.array([[0.0, 0, 0], [1.0, 0, 0]])
    joint = attach_fixed("Humerus", "Radius", points, np.add(points, (1.0, 0, 0)), "limb joints are set by hand")
    return build_skeleton("arm", (element("Humerus"), element("Radius")), (joint,))


def test_a_hinge_by_hand(skeleton):
    made = set_joint(skeleton, "Radius", (1, 0, 0), np.eye(3), HINGE, "elbow, axis through the epicondyles")
    joint = made.joint_of("Radius")
    assert joint.kind == "by hand"
    assert joint.moves
    assert joint.X_WJ[:3, 3] == pytest.approx([1, 0, 0])
    assert [(limit.low.angle_rad, limit.high.angle_rad) for limit in joint.limits] == list(HINGE)
    assert {limit.high.reason for limit in joint.limits} == {"by hand"}
    assert joint.reason == "elbow, axis through the epicondyles"
    assert skeleton.joint_of("Radius").kind == "fixed"  # the old one is untouched


def test_fixed_again(skeleton):
    made = set_joint(skeleton, "Radius", (1, 0, 0), np.eye(3), HINGE, "elbow")
    fixed = fix_joint(made, "Radius", "pinned by an old bolt").joint_of("Radius")
    assert not fixed.moves
    assert fixed.limits is None
    assert fixed.reason == "pinned by an old bolt"


@pytest.mark.parametrize("set_again", [True, False])
def test_what_the_axes_allow_together_goes_with_the_limits_it_was_found_with(skeleton, set_again):
    made = set_joint(skeleton, "Radius", (1, 0, 0), np.eye(3), [(-0.5, 0.5)] * 3, "shoulder")
    known = replace(made.joint_of("Radius"), envelope=Envelope(np.array([(-0.5, 0.5)] * 3), np.ones(258)))
    coupled = build_skeleton("arm", made.elements, (known,))
    if set_again:
        changed = set_joint(coupled, "Radius", (1, 0, 0), np.eye(3), [(-0.1, 0.9)] * 3, "seen on the animal")
    else:
        changed = fix_joint(coupled, "Radius", "pinned")
    assert changed.joint_of("Radius").envelope is None


@pytest.mark.parametrize(
    "change",
    [
        {"reason": "  "},
        {"child": "Humerus"},
        {"child": "Ulna"},
        {"axes": np.diag([1, 1, -1])},
        {"axes": 2 * np.eye(3)},
        {"centre": (np.nan, 0, 0)},
        {"limits": ((0.1, 1), (0, 0), (0, 0))},
        {"limits": ((0, np.nan), (0, 0), (0, 0))},
        {"limits": ((0, 1),)},
        {"limits": ((0, 0), (0, 0), (0, 0))},
        {"senses": (1, 2, 1)},
    ],
    ids=str,
)
def test_what_makes_no_sense_is_refused(skeleton, change):
    given = {"child": "Radius", "centre": (1, 0, 0), "axes": np.eye(3), "limits": HINGE, "reason": "elbow"} | change
    with pytest.raises(SkeletonError):
        set_joint(skeleton, **given)


def test_fixing_needs_a_reason(skeleton):
    with pytest.raises(SkeletonError):
        fix_joint(skeleton, "Radius", "")
