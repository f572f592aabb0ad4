"""The quay strider through the installed add-on, from its scans to the hand-over; run in a Python that holds Blender.

BLENDER_USER_RESOURCES=FRESH_FOLDER python strider_in_blender.py ZIP STRIDER OUT

STRIDER is what make_strider.py wrote.
"""

from __future__ import annotations

import json
import math
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import bpy
import numpy as np
from bending import bend_series
from leaving import run_and_leave
from mathutils import Matrix
from picture import render_picture
from quay import place_on_quay
from righting import audit_and_put_right, check_right
from strider_poses import ALLOY, BY_HAND, LEFT_AT, POSES, SWUNG, TAIL, TAIL_END, WALL_M, StriderPose

PROXY_TRIANGLES = 1500
"""Enough to see an element by; the .blend stays small."""


def main() -> None:
    extension, strider, out = (Path(argument) for argument in sys.argv[1:4])
    operators, document = bpy.ops.counterpoise, out / "strider.json"
    with timed("the add-on installed"):
        add_on = install(extension)
    with timed("scans read, joints and limits found, rig built"):
        operators.import_skeleton(
            folder=str(strider / "scans"), table_path=str(strider / "elements.csv"), unit="mm", name="quay strider"
        )
    truth = json.loads((strider / "expected.json").read_text(encoding="utf-8"))
    put_right: list[str] = []
    with timed(lambda: f"orientation audited, put right: {', '.join(put_right)}"):
        put_right += audit_and_put_right(add_on)
    print(f"  {'':8}  {check_right(read_document(), truth)}", flush=True)
    found = list_found()
    drawn = {child: joint for child, joint in truth["limb_joints"].items() if child not in found}
    with timed(
        f"limbs: {len(found)} joints as found from their surfaces, {len(drawn)} ambiguous and set by hand"
        f"{''.join(f', {child}' for child in drawn)}; skull set by hand; the tail let touch the ground"
    ):
        set_joints(drawn | truth["joints_without_surfaces"])
        let_touch(*TAIL)
    with timed("put on Kestrel Quay: wind, two passengers, anchors at the feet"):
        place_on_quay()
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
def timed(what: str | Callable[[], str]) -> Iterator[None]:
    """Tell what was done, in words or by what tells them once it is done, and how long it took."""
    begun = time.monotonic()
    yield
    print(f"  {time.monotonic() - begun:6.1f} s  {what() if callable(what) else what}", flush=True)


def install(extension: Path) -> str:
    """The add-on as a user installs it, its proxies small; its module."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.ops.extensions.package_install_files(filepath=str(extension), repo="user_default", enable_on_install=True)
    add_on = next(item.module for item in bpy.context.preferences.addons if item.module.endswith(".counterpoise"))
    bpy.context.preferences.addons[add_on].preferences.proxy_triangles = PROXY_TRIANGLES
    return add_on


def set_joints(joints: dict[str, dict]) -> None:
    """Give joints that surfaces do not tell the centre and axis of the drawing, as a user would who knows them."""
    for child, joint in joints.items():
        axis, *limits = BY_HAND[child.partition(" ")[0]]
        if drawn := joint.get("axes"):
            way = np.array(drawn[0]["direction"])
            axis = tuple(float(share) for share in way * np.sign(way @ axis))
        mirrored = -1 if child.endswith(" right") else 1
        bpy.ops.counterpoise.set_joint(
            child=child,
            centre=joint["centre_m"],
            flexion_axis=axis,
            long_axis=joint["away_from_parent"],
            senses=(1, mirrored, mirrored),
            reason="drawn about this centre; limits by hand",
            **{
                name: tuple(math.radians(value) for value in pair)
                for name, pair in zip(("flexion", "lateral", "axial"), limits, strict=True)
            },
        )


def read_document() -> dict:
    """The scene's document."""
    return json.loads(bpy.context.scene.counterpoise.document.as_string())


def list_found() -> set[str]:
    """Children of the limbs' joints that were found from their surfaces."""
    return {joint["child"] for joint in read_document()["skeleton"]["joints"] if joint["kind"] == "limb"}


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
    """Flex single joints, and pitch the whole trunk forwards about the sacrum.

    A ball's own flexion axis stands square to its bone; so that a leg stays in its plane it is swung fore and aft.
    """
    bones = bpy.context.scene.counterpoise.rig.pose.bones
    for child, angle in flexion_deg.items():
        if child.partition(" ")[0] in SWUNG:
            bones[child].rotation_euler = turn_across(bones[child], -angle).to_euler(bones[child].rotation_mode)
        else:
            bones[child].rotation_euler.x = math.radians(angle)
    bones["sacrum"].rotation_quaternion = turn_across(bones["sacrum"], pitch_deg).to_quaternion()
    bpy.context.view_layer.update()


def turn_across(bone: bpy.types.PoseBone, angle_deg: float) -> Matrix:
    """A turn about the animal's left, as the bone has it: above zero what hangs down swings to the tail."""
    rest = bone.bone.matrix_local.to_3x3()
    return rest.inverted() @ Matrix.Rotation(math.radians(angle_deg), 3, "Y") @ rest


if __name__ == "__main__":
    run_and_leave(main)
