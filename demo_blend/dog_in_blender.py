"""Pose the dog with the installed add-on: run by run_dog.py in a Python that holds Blender's module.

BLENDER_USER_RESOURCES=FRESH_FOLDER python dog_in_blender.py ZIP DOCUMENT OUT
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import bpy
from picture import render_picture

POSES = {
    "standing": {},
    "sniffing": {"cervical": (0.5, 0.0), "caudal": (-0.12, 0.0)},
    "looking back": {"cervical": (0.1, 0.9), "caudal": (0.05, -0.15)},
}
"""Name: by series, the share of each joint's range used in flexion (below zero: extension) and lateral bending."""

PICTURE_OF = "sniffing"


def main() -> None:
    extension, document, out = (Path(argument) for argument in sys.argv[1:4])
    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.ops.extensions.package_install_files(filepath=str(extension), repo="user_default", enable_on_install=True)
    operators = bpy.ops.counterpoise
    operators.open_document(filepath=str(document))
    skeleton = json.loads(document.read_text(encoding="utf-8"))["skeleton"]
    for name, shares in POSES.items():
        operators.reset_pose()
        bend_series(skeleton, shares)
        operators.stand(level=True)
        operators.save_pose(name=name)
    operators.delete_pose(name="neutral")
    operators.restore_pose(name=PICTURE_OF)
    operators.save_document(filepath=str(document))
    bpy.ops.wm.save_as_mainfile(filepath=str(out / "dog.blend"))
    operators.hand_over(folder=str(out / "hand-over"))
    render_picture(out / "dog.png")


def bend_series(skeleton: dict, shares: dict[str, tuple[float, float]]) -> None:
    """Turn the joints of whole series by shares of their own ranges, as an artist would turn the bones."""
    series = {element["name"]: element["series"] for element in skeleton["elements"]}
    rig = bpy.context.scene.counterpoise.rig
    for joint in skeleton["joints"]:
        if joint["kind"] == "fixed" or series[joint["child"]] not in shares:
            continue
        flexion, lateral = (
            share * abs(limit["high" if share > 0 else "low"]["angle_rad"])
            for share, limit in zip(shares[series[joint["child"]]], joint["limits"], strict=False)
        )
        sense_flexion, sense_lateral, _ = joint["senses"]
        # The bones' order YZX: x is flexion, z lateral bending, y axial turn.
        rig.pose.bones[joint["child"]].rotation_euler = (sense_flexion * flexion, 0.0, sense_lateral * lateral)
    bpy.context.view_layer.update()


if __name__ == "__main__":
    main()
