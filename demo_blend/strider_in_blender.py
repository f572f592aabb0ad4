"""The quay strider through the installed add-on, from its scans to the hand-over; run in a Python that holds Blender.

BLENDER_USER_RESOURCES=FRESH_FOLDER python strider_in_blender.py ZIP STRIDER OUT

STRIDER is what make_strider.py wrote.
"""

from __future__ import annotations

import json
import math
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import bpy
from bending import bend_series
from mathutils import Matrix
from picture import render_picture
from strider_poses import ALLOY, LEFT_AT, LIMB_JOINTS, POSES, TAIL, TAIL_END, WALL_M, StriderPose

PROXY_TRIANGLES = 1500
"""Enough to see an element by; the .blend stays small."""


def main() -> None:
    extension, strider, out = (Path(argument) for argument in sys.argv[1:4])
    operators, document = bpy.ops.counterpoise, out / "strider.json"
    with timed("the add-on installed"):
        install(extension)
    with timed("scans read, joints and limits found, rig built"):
        operators.import_skeleton(
            folder=str(strider / "scans"), table_path=str(strider / "elements.csv"), unit="mm", name="quay strider"
        )
    with timed("limbs: centres of the hips as fitted, the rest by hand; the tail let touch the ground"):
        truth = json.loads((strider / "expected.json").read_text(encoding="utf-8"))
        set_limb_joints(truth["limb_joints"])
        let_touch(*TAIL)
    with timed(f"hollow castings with a wall of {1000 * WALL_M:g} mm, their voids measured"):
        operators.set_alloy(alloy=ALLOY)
        operators.cast(level="ALL", kind="HOLLOW", wall=WALL_M)
        operators.save_document(filepath=str(document))
    skeleton = json.loads(document.read_text(encoding="utf-8"))["skeleton"]
    with timed("poses made and saved"):
        for name, pose in POSES.items():
            make_pose(skeleton, name, pose)
        operators.delete_pose(name="as scanned")
        operators.restore_pose(name=LEFT_AT)
        # Beside the .blend, wherever the folder is moved.
        settings = bpy.context.scene.counterpoise
        settings.mesh_folder, settings.table_path = "//scans", "//elements.csv"
    with timed(".blend and document saved"):
        operators.save_document(filepath=str(document))
        bpy.ops.wm.save_as_mainfile(filepath=str(out / "strider.blend"), compress=True)
    with timed("hand-over written"):
        operators.hand_over(folder=str(out / "hand-over"))
    with timed("pictures rendered"):
        for name in POSES:
            operators.restore_pose(name=name)
            found = json.loads((out / "hand-over" / name / "assessment.json").read_text(encoding="utf-8"))
            render_picture(out / f"{name}.png", found)


@contextmanager
def timed(what: str) -> Iterator[None]:
    """Tell what was done and how long it took."""
    begun = time.monotonic()
    yield
    print(f"  {time.monotonic() - begun:6.1f} s  {what}", flush=True)


def install(extension: Path) -> None:
    """The add-on as a user installs it, its proxies small."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.ops.extensions.package_install_files(filepath=str(extension), repo="user_default", enable_on_install=True)
    add_on = next(item.module for item in bpy.context.preferences.addons if item.module.endswith(".counterpoise"))
    bpy.context.preferences.addons[add_on].preferences.proxy_triangles = PROXY_TRIANGLES


def set_limb_joints(joints: dict[str, dict[str, list[float]]]) -> None:
    """Give the limbs and the head axes and limits, as a user would who knows how they turn.

    Where a surface was fitted the joint's centre stays as it was found; elsewhere it is that of the drawing.
    """
    fitted = list_fitted()
    for child, joint in joints.items():
        kind, _, side = child.partition(" ")
        axis, *limits = LIMB_JOINTS[kind]
        found = child in fitted
        bpy.ops.counterpoise.set_joint(
            child=child,
            **({} if found else {"centre": joint["centre_m"]}),
            flexion_axis=axis,
            long_axis=joint["away_from_parent"],
            senses=(1, -1 if side == "right" else 1, -1 if side == "right" else 1),
            reason=f"centre of {fitted[child]}; axes and limits by hand" if found else "drawn about this centre",
            **{
                name: tuple(math.radians(value) for value in pair)
                for name, pair in zip(("flexion", "lateral", "axial"), limits, strict=True)
            },
        )


def list_fitted() -> dict[str, str]:
    """What was fitted at joints of limbs, by their child: those that turn, and nobody has set."""
    document = json.loads(bpy.context.scene.counterpoise.document.as_string())
    joints = document["skeleton"]["joints"]
    return {joint["child"]: joint["reason"] for joint in joints if joint["kind"] == "limb"}


def let_touch(name: str, elements: list[str]) -> None:
    """Select bones in pose mode and let what they carry touch the ground."""
    rig = bpy.context.scene.counterpoise.rig
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="POSE")
    bpy.ops.pose.select_all(action="DESELECT")
    for element in elements:
        bone = rig.pose.bones[element]
        # From Blender 5 on the pose bone has the selection.
        (bone if hasattr(bone, "select") else bone.bone).select = True
    bpy.ops.counterpoise.add_contact(name=name)
    bpy.ops.object.mode_set(mode="OBJECT")


def make_pose(skeleton: dict, name: str, pose: StriderPose) -> None:
    """Turn the bones as an artist would, set the whole down, save the pose."""
    operators = bpy.ops.counterpoise
    operators.reset_pose()
    bend_series(skeleton, pose.series)
    if pose.tail_end is not None:
        bend_series(skeleton, {"caudal": (pose.tail_end, 0.0)}, TAIL_END)
    turn_joints(pose.flexion_deg, pose.pitch_deg)
    operators.stand(level=pose.level)
    operators.save_pose(name=name)


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
