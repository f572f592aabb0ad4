"""Joints set by the user."""

from __future__ import annotations

import itertools
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
from core_calcs.spatial.rotations import joint_angles, joint_rotation

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
        {"limits": ((-3.2, 0), (0, 0), (0, 0))},
        {"limits": ((0, 0), (0, np.pi / 2), (0, 0))},
        {"limits": ((-0.1, 2.2), (-0.5, 0.4), (-0.2, 2.1))},
        {"senses": (1, 2, 1)},
    ],
    ids=str,
)
def test_what_makes_no_sense_is_refused(skeleton, change):
    given = {"child": "Radius", "centre": (1, 0, 0), "axes": np.eye(3), "limits": HINGE, "reason": "elbow"} | change
    with pytest.raises(SkeletonError):
        set_joint(skeleton, **given)


def test_limits_that_rigs_cannot_tell_apart_are_refused_in_plain_words(skeleton):
    """130° + 30° + 115° = 275°: the same attitude as -50°, 150°, -65°, whose sum is 265°."""
    limits = np.radians([(-10, 130), (-30, 30), (-20, 115)])
    with pytest.raises(SkeletonError, match=r"130°, 30° and 115°, 275° together.*two sets of angles.*Give less"):
        set_joint(skeleton, "Radius", (1, 0, 0), np.eye(3), limits, "shoulder")
    with pytest.raises(SkeletonError, match=r"lateral limit is 95°.*below 90°"):
        set_joint(skeleton, "Radius", (1, 0, 0), np.eye(3), np.radians([(0, 0), (-95, 0), (0, 0)]), "shoulder")
    with pytest.raises(SkeletonError, match=r"axial limit of 190° .*from -180° to 180°"):
        set_joint(skeleton, "Radius", (1, 0, 0), np.eye(3), np.radians([(0, 0), (0, 0), (0, 190)]), "shoulder")


@pytest.mark.parametrize("reach", [(180, 0, 0), (120, 60, 89), (90, 89.9, 90), (0, 0, 180)])
def test_the_widest_limits_come_back_as_they_were_set(skeleton, reach):
    """At every corner the angles read from the attitude are those that made it, and no others say it in less."""
    made = set_joint(skeleton, "Radius", (1, 0, 0), np.eye(3), np.radians([(-deg, deg) for deg in reach]), "shoulder")
    ends = [(limit.low.angle_rad, limit.high.angle_rad) for limit in made.joint_of("Radius").limits]
    for corner in itertools.product(*ends):
        read = joint_angles(joint_rotation(corner))
        assert np.abs(np.cos(read) - np.cos(corner)).max() < 1e-6
        assert np.abs(np.sin(read) - np.sin(corner)).max() < 1e-6
        flexion, lateral, axial = np.abs(corner)
        assert flexion + lateral + axial < 3 * np.pi - (flexion + lateral + axial)


def test_fixing_needs_a_reason(skeleton):
    with pytest.raises(SkeletonError):
        fix_joint(skeleton, "Radius", "")
