"""The quay strider through the installed add-on, from its scans to the hand-over; run in a Python that holds Blender.

BLENDER_USER_RESOURCES=FRESH_FOLDER python strider_in_blender.py ZIP STRIDER OUT

STRIDER is what make_strider.py wrote.
"""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path

import bpy
from bending import bend_series
from mathutils import Matrix
from picture import render_picture

FORWARDS, BACKWARDS = (0.0, -1.0, 0.0), (0.0, 1.0, 0.0)
"""Flexion axes of a limb that hangs down: it swings towards the head, or towards the tail, for angles above zero."""

BY_HAND = {
    "skull": (FORWARDS, (-20, 25), (-25, 25), (-10, 10)),
    "femur": (FORWARDS, (-45, 60), (-10, 25), (-15, 15)),
    "tibia": (BACKWARDS, (-15, 80), (0, 0), (0, 0)),
    "astragalus": (FORWARDS, (-40, 50), (0, 0), (0, 0)),
    "humerus": (FORWARDS, (-40, 60), (-10, 30), (-20, 20)),
    "ulna": (FORWARDS, (-10, 90), (0, 0), (0, 0)),
}
"""Joints without facets that the core could use: flexion axis and limits [degrees] as a user would set them."""

POSES = {
    "standing": ({}, {}, 0.0),
    "stooping": (
        {"dorsal": (0.37, 0.0), "cervical": (0.30, 0.0), "caudal": (-0.18, 0.0)},
        {"femur left": 22, "femur right": 22, "skull": -15},
        22.0,
    ),
    "running": (
        {"cervical": (-0.2, 0.0), "caudal": (-0.15, 0.1)},
        {
            **{"femur left": 14, "tibia left": 10, "astragalus left": -4},
            **{"femur right": -22, "tibia right": 26, "astragalus right": 10},
            **{"ulna left": 40, "ulna right": 40},
        },
        0.0,
    ),
}
"""Name: shares of whole series' ranges (flexion, lateral), single joints' flexion, pitch of the trunk [degrees]."""

LEFT_AT = "standing"
PROXY_TRIANGLES = 1500
"""Enough to see an element by; the .blend stays small."""


def main() -> None:
    extension, strider, out = (Path(argument) for argument in sys.argv[1:4])
    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.ops.extensions.package_install_files(filepath=str(extension), repo="user_default", enable_on_install=True)
    add_on = next(item.module for item in bpy.context.preferences.addons if item.module.endswith(".counterpoise"))
    bpy.context.preferences.addons[add_on].preferences.proxy_triangles = PROXY_TRIANGLES
    operators = bpy.ops.counterpoise
    operators.import_skeleton(
        folder=str(strider / "scans"), table_path=str(strider / "elements.csv"), unit="mm", name="quay strider"
    )
    truth = json.loads((strider / "expected.json").read_text(encoding="utf-8"))
    set_limb_joints(truth["limb_joints"])
    document = out / "strider.json"
    operators.save_document(filepath=str(document))
    skeleton = json.loads(document.read_text(encoding="utf-8"))["skeleton"]
    for name, (shares, turned, pitch) in POSES.items():
        operators.reset_pose()
        bend_series(skeleton, shares)
        turn_joints(turned, pitch)
        operators.stand(level=False)
        operators.save_pose(name=name)
        print(f"  pose {name}")
    operators.delete_pose(name="as scanned")
    operators.restore_pose(name=LEFT_AT)
    operators.save_document(filepath=str(document))
    bpy.ops.wm.save_as_mainfile(filepath=str(out / "strider.blend"), compress=True)
    operators.hand_over(folder=str(out / "hand-over"))
    for name in POSES:
        operators.restore_pose(name=name)
        render_picture(out / f"{name}.png")


def set_limb_joints(joints: dict[str, dict[str, list[float]]]) -> None:
    """Give the limbs and the head their joints, as a user would who knows where they turn."""
    for child, joint in joints.items():
        kind, _, side = child.partition(" ")
        axis, *limits = BY_HAND[kind]
        bpy.ops.counterpoise.set_joint(
            child=child,
            centre=joint["centre_m"],
            flexion_axis=axis,
            long_axis=joint["away_from_parent"],
            senses=(1, -1 if side == "right" else 1, -1 if side == "right" else 1),
            reason="made here: the bones were drawn about this centre",
            **{
                name: tuple(math.radians(value) for value in pair)
                for name, pair in zip(("flexion", "lateral", "axial"), limits, strict=True)
            },
        )


def turn_joints(flexion_deg: dict[str, float], pitch_deg: float) -> None:
    """Flex single joints, and pitch the whole trunk forwards about the sacrum."""
    bones = bpy.context.scene.counterpoise.rig.pose.bones
    for child, angle in flexion_deg.items():
        bones[child].rotation_euler.x = math.radians(angle)
    rest = bones["sacrum"].bone.matrix_local.to_3x3()
    turn = rest.inverted() @ Matrix.Rotation(math.radians(pitch_deg), 3, "Y") @ rest
    bones["sacrum"].rotation_quaternion = turn.to_quaternion()
    bpy.context.view_layer.update()


if __name__ == "__main__":
    main()
