"""Saved poses side by side: what is checked stays checked, the table is the core's, in the scene's units."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from scenes import Scene

POSES = {"low": (0.3, 0.3), "middle": (0.0, 0.0), "high": (-0.3, 0.1)}


@pytest.fixture
def three(animal_scene: Scene) -> Scene:
    """Three saved poses that differ in the tail alone, the first and the last checked."""
    for name, (flexion, lateral) in POSES.items():
        animal_scene.write_pose({"V9": np.array([flexion, lateral, 0.0])})
        assert bpy.ops.counterpoise.save_pose(name=name) == {"FINISHED"}
    check(animal_scene, "low", "high")
    return animal_scene


def check(scene: Scene, *names: str) -> None:
    for row in scene.settings.poses:
        row.compared = row.name in names


def checked(scene: Scene) -> list[str]:
    return [row.name for row in scene.settings.poses if row.compared]


def compare(scene: Scene):
    bpy.context.view_layer.update()
    scene.part("bridge.figures").refresh_figures(bpy.context)
    return scene.part("bridge.comparison").compare_checked(bpy.context.scene)


def test_the_table_is_the_cores(three: Scene) -> None:
    compared, document = compare(three), three.document
    assert compared.poses == ("low", "high")
    study = three.part("core_calcs.studies.assess").assess
    found = [
        study(document.skeleton, pose, document.build, document.site)
        for name in compared.poses
        for pose in document.poses
        if pose.name == name
    ]
    lines = {line.head: line for line in compared.lines}
    assert [float(cell) for cell in lines["Mass [kg]"].cells] == pytest.approx([own.mass_kg for own in found], rel=1e-3)
    margins = [1000 * own.distance_margin_m for own in found]
    assert lines["Margin [mm]"].cells == tuple(f"{margin:.0f}" for margin in margins)
    assert len(set(lines["Margin [mm]"].cells)) == 1
    assert lines["Margin [mm]"].best == (), "what reads alike is as good as each other"
    tail = [float(np.linalg.norm(one.joints[row].moment_Nm)) for one in found for row in [find_row(document, "V6")]]
    assert [float(cell) for cell in lines["Tail moment [N·m]"].cells] == pytest.approx(tail, rel=1e-3)
    assert lines["Tail moment [N·m]"].places == ("V6", "V6")
    assert lines["Tail moment [N·m]"].best == (int(np.argmin(tail)),)
    assert lines["Worst foot [N]"].cells == tuple(
        f"{max(foot.force_N for foot in own.feet):.{len(cell.partition('.')[2])}f}"
        for own, cell in zip(found, lines["Worst foot [N]"].cells, strict=True)
    )
    assert compared.states == tuple(figures.state for figures in saved(three, compared.poses))


def test_of_an_animal_without_a_neck_it_is_said_that_there_is_none(three: Scene) -> None:
    cells = {line.head.partition(" [")[0]: line.cells for line in compare(three).lines}
    assert cells["Neck moment"] == ("no neck", "no neck")
    assert "no tail" not in cells["Tail moment"]


def find_row(document, child: str) -> int:
    return [joint.child for joint in document.skeleton.joints].index(child)


def saved(scene: Scene, names: tuple[str, ...]) -> list:
    known = {own.pose: own for own in scene.part("bridge.figures").saved_figures()}
    return [known[name] for name in names]


def test_checks_follow_their_poses(three: Scene) -> None:
    op = bpy.ops.counterpoise
    assert op.move_pose(name="high", places=-1) == {"FINISHED"}
    assert checked(three) == ["low", "high"]
    assert op.rename_pose(name="low", new_name="down") == {"FINISHED"}
    assert checked(three) == ["down", "high"]
    assert op.duplicate_pose(name="down", new_name="copy") == {"FINISHED"}
    assert checked(three) == ["down", "high"]
    assert op.delete_pose(name="down") == {"FINISHED"}
    assert checked(three) == ["high"]


def test_two_to_six_are_to_be_checked(three: Scene) -> None:
    poll = bpy.ops.counterpoise.compare_poses.poll
    assert poll()
    check(three, "low")
    assert not poll()
    with pytest.raises(RuntimeError, match="poll"):
        bpy.ops.counterpoise.compare_poses()
    for i in range(4):
        assert bpy.ops.counterpoise.save_pose(name=f"more {i}") == {"FINISHED"}
    names = [row.name for row in three.settings.poses]
    check(three, *names[-6:])
    assert poll()
    check(three, *names[-7:])
    assert not poll()


def test_it_is_written_to_a_text_block(three: Scene) -> None:
    assert bpy.ops.counterpoise.compare_poses() == {"FINISHED"}
    text = bpy.data.texts["Poses side by side"].as_string()
    heads = [line.split("  ")[0] for line in text.splitlines()]
    assert heads[1:4] == ["State", "Mass [kg]", "Margin [mm]"]
    assert "best" in text
    assert "worst" in text
    assert len({line.find("  ") > 0 for line in text.splitlines()[1:]}) == 1
    assert bpy.ops.counterpoise.compare_poses() == {"FINISHED"}
    assert [block.name for block in bpy.data.texts if block.name.startswith("Poses side")] == ["Poses side by side"]


def test_a_pose_that_cannot_be_studied_is_left_out(three: Scene, monkeypatch) -> None:
    figures = three.part("bridge.figures")
    assess, error = figures.assess_prepared, three.part("core_calcs.spatial.errors").SkeletonError

    def fail_low(prepared, pose, *rest, **how):
        if pose.name == "low":
            raise error("low", "it fails", "mend it")
        return assess(prepared, pose, *rest, **how)

    monkeypatch.setattr(figures, "assess_prepared", fail_low)
    figures.drop_figures()
    assert compare(three) is None
    check(three, "low", "middle", "high")
    assert compare(three).poses == ("middle", "high")


def test_it_is_in_the_scenes_units(three: Scene) -> None:
    bpy.context.scene.unit_settings.system = "IMPERIAL"
    heads = [line.head for line in compare(three).lines]
    assert heads[:7] == [
        "Mass [lb]",
        "Margin [in]",
        "Tip angle [°]",
        "Base moment [lbf·ft]",
        "Worst foot [lbf]",
        "Neck moment",
        "Tail moment [lbf·ft]",
    ]
