"""Joints of the demo's made-up limbs, known because they were made so, against what their surfaces tell the finder.

Their unevenness, and the grid that the meshes are made on, add to what a fit may be off.
"""

from __future__ import annotations

import sys
from concurrent.futures import ProcessPoolExecutor
from functools import cache, partial
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "demo_blend"))
from strider.animal import find_height, make_bone_mesh, plan_bones, tell_truth
from strider.bones import Bone
from strider.column import plan_column

from core_calcs.articulation.limb_joint import find_limb_joint
from core_calcs.articulation.partner import LIMB_CELLS_A_SIZE, Partner, prepare_partner
from core_calcs.mesh.solid import Solid
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body
from core_calcs.skeleton.joint import Joint, LimitSettings

BONES = plan_bones(plan_column())
BY_NAME = {bone.name: bone for bone in BONES}
MADE = {bone.name: bone for bone in BONES if bone.joint is not None}
SEEDS = {3: "left", 4: "right"}
LEAST_FOUND = 25
"""Of 27 a side: the others may be ambiguous, and say why."""
OFF_RADIUS, OFF_DEG = 0.02, 3.0


@cache
def make_bone(seed: int, name: str) -> tuple[Surface, Solid]:
    """A bone's surface and what the survey says of it: made once for the two joints that it mostly has."""
    bone = BY_NAME[name]
    return survey_body(Surface(*make_bone_mesh(bone, seed, BONES.index(bone), 1.0)))


def find_joint(seed: int, child: str) -> Joint:
    """Make the two bones of a joint and find it."""
    bones = [BY_NAME[MADE[child].parent], MADE[child]]
    made = [make_bone(seed, bone.name) for bone in bones]
    smallest = float(np.cbrt(min(solid.volume_m3 for _, solid in made)))
    partners: list[Partner] = [
        prepare_partner(bone.name, surface, solid.volume_m3, solid.centre_m, smallest, LIMB_CELLS_A_SIZE)
        for bone, (surface, solid) in zip(bones, made, strict=True)
    ]
    settings = LimitSettings(search_rad=np.radians(2))  # of limits nothing is asked
    return find_limb_joint(partners[0], partners[1], bones[1].side, settings)


@pytest.fixture(scope="module", params=[3, pytest.param(4, marks=pytest.mark.slow)])
def joints(request) -> dict[str, Joint]:
    """The joints of one side of an animal, by child."""
    children = [child for child in MADE if MADE[child].side == SEEDS[request.param]]
    with ProcessPoolExecutor(2) as pool:
        found = pool.map(partial(find_joint, request.param), children, chunksize=4)  # neighbours have a bone in common
        return dict(zip(children, found, strict=True))


def test_limb_joints_are_found_as_they_were_made(joints):
    found = {child: joint for child, joint in joints.items() if joint.confidence == "found"}
    assert len(joints) == 27
    assert len(found) >= LEAST_FOUND
    assert all(joint.reason for joint in joints.values())
    wrong = {child: told for child, joint in found.items() if (told := tell_errors(MADE[child], joint))}
    assert not wrong


def tell_errors(bone: Bone, joint: Joint) -> str:
    """What is wrong with a joint that was found, in words; nothing where it is right."""
    made = bone.joint
    if joint.fit.family != made.family:
        return f"a {joint.fit.family}, made as a {made.family}"
    may = OFF_RADIUS * made.reach + find_height(BY_NAME[joint.fit.element])
    off = joint.X_WJ[:3, 3] - made.centre
    turned = 0.0
    if made.family != "ball":
        cosines = [abs(float(joint.X_WJ[:3, 0] @ axis)) for axis, _ in made.axes]
        turned = float(np.degrees(np.arccos(min(max(cosines), 1.0))))
    if made.family in ("hinge", "paired condyles"):
        axis = made.axes[0][0]
        off = off - axis * (off @ axis)  # along the axis a hinge has no centre
    told = f"{1000 * np.linalg.norm(off):.2f} mm of {1000 * may:.2f} mm, {turned:.1f}°"
    return told if np.linalg.norm(off) > may or turned > OFF_DEG else ""


def test_both_sides_are_made_alike():
    """The right side is the left one's image, apart from the unevenness."""
    for name, bone in MADE.items():
        if bone.side == "left":
            other = MADE[name.replace("left", "right")]
            assert other.parent == bone.parent.replace("left", "right")
            np.testing.assert_allclose(other.joint.centre * (1, -1, 1), bone.joint.centre)
            for (axis, place), (other_axis, other_place) in zip(bone.joint.axes, other.joint.axes, strict=True):
                np.testing.assert_allclose(np.cross(other_axis * (1, -1, 1), axis), 0, atol=1e-12)
                np.testing.assert_allclose(other_place * (1, -1, 1), place)


def test_the_surfaces_turn_about_what_is_told():
    """Turned about its own axis, or about a ball's centre every way, the surface that stands out stays where it is."""
    rng = np.random.default_rng(3)
    for bone in MADE.values():
        made = bone.joint
        points = made.centre + rng.normal(size=(200, 3)) * made.radius
        turns = [(axis, made.centre) for axis in np.eye(3)] if made.family == "ball" else made.axes[:1]
        before = made.stand_out()(points)
        for axis, place in turns:
            angle = 0.7
            q = points - place
            c, s = np.cos(angle), np.sin(angle)
            turned = q * c + np.cross(axis, q) * s + np.outer(q @ axis, axis) * (1 - c)
            np.testing.assert_allclose(made.stand_out()(turned + place), before, atol=1e-9)


def test_the_truth_holds_every_limb_joint():
    told = tell_truth()["limb_joints"]
    assert set(told) == set(MADE)
    for child, joint in told.items():
        assert joint["family"] == MADE[child].joint.family
        assert joint["parent"] == MADE[child].parent
        assert len(joint["axes"]) == {"ball": 0, "saddle": 2}.get(joint["family"], 1)
