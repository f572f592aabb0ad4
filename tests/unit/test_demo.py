"""What the demo says of its poses, and that it poses joints that are there, within the limits it has set."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "demo_blend"))
from poses_table import show_poses
from strider.animal import name_vertebra, plan_bones, tell_truth
from strider.column import plan_column
from strider_poses import BY_HAND, LEFT_AT, POSES, TAIL

ROW = {
    "pose": "running",
    "state": "fails",
    "mass_kg": "2843.8359",
    "mass_uncertainty_kg": "56.9",
    "base_moment_x_Nm": "6465.7",
    "base_moment_y_Nm": "-4.9",
    "distance_margin_m": "-0.0994",
    "tip_angle_deg": "-2.52",
    "joints_beyond_limits": "3",
    "pairs_in_each_other": "12",
}


def show(path: Path, *rows: dict[str, str]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(ROW))
        writer.writeheader()
        writer.writerows(rows)
    show_poses(path)


def test_the_table_says_a_pose_a_row(tmp_path, capsys):
    unknown = ROW | {"pose": "on its nose", "distance_margin_m": "not known", "tip_angle_deg": "not known"}
    show(tmp_path / "poses.csv", ROW, unknown)
    lines = capsys.readouterr().out.splitlines()
    assert lines[1].split("  ")[0] == "pose"
    assert lines[2].split() == ["running", "fails", "2844", "±", "57", "6.47,", "0.00", "-99", "-2.5", "3", "12"]
    assert lines[3].count("not known") == 2
    # Figures stand below one another, flush right.
    ends = [[i for i in range(len(line)) if line[i] != " " and line[i + 1 : i + 3] in ("  ", "")] for line in lines[1:]]
    assert ends[0][-2:] == ends[1][-2:] == ends[2][-2:]


@pytest.mark.parametrize("name", POSES)
def test_poses_turn_joints_that_are_there_within_the_limits_by_hand(name):
    truth = tell_truth()
    joints = truth["limb_joints"] | truth["joints_without_surfaces"]
    for child, angle in POSES[name].flexion_deg.items():
        assert child in joints
        low, high = BY_HAND[child.partition(" ")[0]][1]
        assert low <= angle <= high, child


@pytest.mark.parametrize("name", ["standing", "stooping", "resting"])
def test_feet_stay_level(name):
    """Pitch of the trunk, thigh, shank and foot add up to nothing."""
    pose = POSES[name]
    for side in ("left", "right"):
        femur, tibia, astragalus = (pose.flexion_deg[f"{bone} {side}"] for bone in ("femur", "tibia", "astragalus"))
        assert pose.pitch_deg - femur + tibia - astragalus == pytest.approx(0)


def test_what_is_named_is_there():
    column = plan_column()
    names = {name_vertebra(vertebra) for vertebra in column} | {bone.name for bone in plan_bones(column)}
    assert set(TAIL[1]) <= names
    assert LEFT_AT in POSES
    truth = tell_truth()
    joints = [*truth["limb_joints"], *truth["joints_without_surfaces"]]
    assert {child.partition(" ")[0] for child in joints} == set(BY_HAND)
