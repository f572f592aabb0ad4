"""Pose the dog with the installed add-on: run by run_dog.py in a Python that holds Blender's module.

BLENDER_USER_RESOURCES=FRESH_FOLDER python dog_in_blender.py ZIP DOCUMENT OUT
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import bpy
from bending import bend_series
from leaving import run_and_leave
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
    operators.delete_pose(name="as scanned")
    operators.restore_pose(name=PICTURE_OF)
    operators.save_document(filepath=str(document))
    bpy.ops.wm.save_as_mainfile(filepath=str(out / "dog.blend"))
    operators.hand_over(folder=str(out / "hand-over"))
    render_picture(out / "dog.png")


if __name__ == "__main__":
    run_and_leave(main)
