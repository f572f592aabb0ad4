"""The skeleton document of the demo that comes with the add-on, made by the installed add-on from its scans.

BLENDER_USER_RESOURCES=FRESH_FOLDER python opened_in_blender.py ZIP DOCUMENT FOLDER

FOLDER holds scans, elements.csv and expected.json, as make_opened.py writes them.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import bpy
from leaving import run_and_leave
from quay import ANCHOR_KN, place_on_quay
from strider_in_blender import install, let_touch, list_found, make_pose, set_joints, timed
from strider_poses import ALLOY, LEFT_AT, POSES, TAIL, WALL_M

OPENED_ANCHOR_KN = 40.0
"""What the anchors of each foot hold: coarser meshes weigh a twentieth less than the large demo's, whose anchors
would just not hold *standing* in the wind."""


def main() -> None:
    extension, document, folder = (Path(argument) for argument in sys.argv[1:4])
    operators = bpy.ops.counterpoise
    install(extension)
    with timed("scans read, joints and limits found, rig built"):
        operators.import_skeleton(
            folder=str(folder / "scans"), table_path=str(folder / "elements.csv"), unit="mm", name="quay strider"
        )
    truth = json.loads((folder / "expected.json").read_text(encoding="utf-8"))
    found = list_found()
    drawn = {child: joint for child, joint in truth["limb_joints"].items() if child not in found}
    with timed(f"{len(found)} joints of limbs found; set by hand: {', '.join(drawn) or 'none'} and the skull's"):
        set_joints(drawn | truth["joints_without_surfaces"])
        let_touch(*TAIL)
        place_on_quay()
        for foot in ANCHOR_KN:
            operators.set_footing(foot=foot, anchored=True, anchor_known=True, anchor=OPENED_ANCHOR_KN)
    with timed("cast hollow, its voids measured"):
        operators.set_alloy(alloy=ALLOY)
        operators.cast(level="ALL", kind="HOLLOW", wall=WALL_M)
        operators.save_document(filepath=str(document))
    skeleton = json.loads(document.read_text(encoding="utf-8"))["skeleton"]
    with timed("poses made and saved"):
        for name, pose in POSES.items():
            make_pose(skeleton, name, pose)
        operators.delete_pose(name="as scanned")
        operators.restore_pose(name=LEFT_AT)
    operators.save_document(filepath=str(document))


if __name__ == "__main__":
    run_and_leave(main)
