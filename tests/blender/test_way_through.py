"""The whole way on a made-up animal: survey, import, pose, save, figures, hand-over; files come back alike."""

from __future__ import annotations

import json
from pathlib import Path

import bpy
import numpy as np
import pytest
from scenes import Scene, inside_limits


def pose_animal(scene: Scene, seed: int) -> None:
    rng = np.random.default_rng(seed)
    scene.write_pose({j.child: 0.5 * inside_limits(j, rng) for j in scene.moving_joints()})
    bpy.ops.counterpoise.stand()


def test_survey_proposes_a_table_once(animal_files, tmp_path: Path) -> None:
    folder, _ = animal_files
    table = tmp_path / "proposed.csv"
    assert bpy.ops.counterpoise.survey_folder(folder=str(folder), unit="mm", table_path=str(table)) == {"FINISHED"}
    lines = table.read_text("utf-8").splitlines()
    assert len(lines) == 14
    assert "13 files" in bpy.data.texts["Survey"].as_string()
    table.write_text("\n".join(lines).replace("leg V8 left.stl,,mm,", "leg V8 left.stl,,mm,My_"), "utf-8")
    edited = table.read_text("utf-8")
    assert bpy.ops.counterpoise.survey_folder(folder=str(folder), unit="mm", table_path=str(table)) == {"FINISHED"}
    assert table.read_text("utf-8") == edited
    again = bpy.ops.counterpoise.survey_folder(folder=str(folder), table_path=str(table), propose_anew=True)
    assert again == {"FINISHED"}
    assert table.read_text("utf-8").splitlines() == lines


def test_proxies_say_what_they_are_and_keep_to_the_budget(animal_files) -> None:
    addon = bpy.context.preferences.addons["bl_ext.user_default.counterpoise"].preferences
    folder, table = animal_files
    addon.proxy_triangles = 100
    try:
        bpy.ops.counterpoise.import_skeleton(folder=str(folder), table_path=str(table), unit="mm")
    finally:
        addon.property_unset("proxy_triangles")
    proxies = [o for o in bpy.context.scene.objects if "counterpoise_element" in o]
    assert len(proxies) == 13
    assert all(o["counterpoise_purpose"].startswith("display proxy") for o in proxies)
    assert max(len(o.data.polygons) for o in proxies) <= 100


def test_figures_are_those_of_the_core(animal_scene, part) -> None:
    pose_animal(animal_scene, 11)
    assert bpy.ops.counterpoise.save_pose(name="one") == {"FINISHED"}
    document = animal_scene.document
    saved = document.poses[-1]
    assert saved.name == "one"
    found = part("core_calcs.studies.assess").assess(document.skeleton, saved, document.build, document.site)
    figures = part("bridge.figures")
    shown = figures.saved_figures()
    assert [row.pose for row in shown] == ["as scanned", "one"]
    for row in (shown[-1], figures.live_figures()):
        assert row.mass.startswith(f"{found.mass_kg:.4g} ±")
        centre = [float(value) for value in row.centre.removesuffix(" m").split(",")]
        np.testing.assert_allclose(centre, found.centre_m, rtol=0, atol=5.1e-4)
        moment = [float(value) for value in row.base_moment.removesuffix(" N·m").split(",")]
        np.testing.assert_allclose(moment, found.base_moment_Nm[:2], rtol=6e-3, atol=6e-3)
        assert row.margin == f"{found.distance_margin_m * 1000:.0f} mm"
        assert row.tip_angle == f"{np.degrees(found.tip_angle_rad):.1f}°"
        assert row.outside == "0 of 11"
        assert [finding.state for finding in row.findings] == [check.state for check in found.checks]


def test_what_is_not_known_is_said(animal_scene, part) -> None:
    figures = part("bridge.figures")
    animal_scene.rig.location = (0, 0, 2)
    bpy.context.view_layer.update()
    figures.refresh_figures(bpy.context)
    assert figures.live_figures().margin == "not known"
    assert figures.live_figures().tip_angle == "not known"


def test_live_figures_follow_the_bones(animal_scene, part) -> None:
    figures = part("bridge.figures")
    figures.refresh_figures(bpy.context)
    before = figures.live_figures()
    assert not figures.refresh_figures(bpy.context)
    animal_scene.bone_of("V2").rotation_euler[0] = 0.2
    bpy.context.view_layer.update()
    assert figures.refresh_figures(bpy.context)
    assert figures.live_figures().centre != before.centre


def test_saved_poses_come_back(animal_scene) -> None:
    pose_animal(animal_scene, 12)
    before = animal_scene.read_pose()
    bpy.ops.counterpoise.save_pose(name="kept")
    bpy.ops.counterpoise.reset_pose()
    neutral = animal_scene.read_pose()
    assert neutral.angles_rad == {}
    np.testing.assert_allclose(neutral.X_WN, before.X_WN, rtol=0, atol=1e-6)
    bpy.ops.counterpoise.restore_pose(name="kept")
    after = animal_scene.read_pose()
    assert set(after.angles_rad) == set(before.angles_rad)
    for child, angles in before.angles_rad.items():
        np.testing.assert_allclose(after.angles_rad[child], angles, rtol=0, atol=2e-6)
    bpy.ops.counterpoise.delete_pose(name="kept")
    assert [pose.name for pose in animal_scene.document.poses] == ["as scanned"]


def test_names_are_proposed_and_overwriting_is_asked_for(animal_scene) -> None:
    bpy.ops.counterpoise.save_pose()
    bpy.ops.counterpoise.save_pose()
    assert [pose.name for pose in animal_scene.document.poses] == ["as scanned", "Pose 1", "Pose 2"]
    with pytest.raises(RuntimeError, match="a pose of that name"):
        bpy.ops.counterpoise.save_pose(name="Pose 1")
    pose_animal(animal_scene, 13)
    bpy.ops.counterpoise.save_pose(name="Pose 1", overwrite=True)
    assert len(animal_scene.document.poses) == 3
    assert animal_scene.document.poses[1].angles_rad


def test_it_stands_on_the_ground(animal_scene, part) -> None:
    pose_animal(animal_scene, 14)
    document = animal_scene.document
    found = part("core_calcs.studies.assess").assess(
        document.skeleton, animal_scene.read_pose(), document.build, document.site
    )
    lowest = min(float(foot.points_m[:, 2].min()) for foot in found.feet if len(foot.points_m))
    assert lowest == pytest.approx(0.0, abs=1e-6)


def test_setting_a_joint_keeps_pose_and_other_joints(animal_scene) -> None:
    import scenes

    pose_animal(animal_scene, 15)
    before = animal_scene.read_pose()
    scenes.set_joint("V3", (0.1, 0.0, 0.41), (0, 1, 0), (1, 0, 0), ((-0.4, 0.3),) * 3)
    joint = animal_scene.document.skeleton.joint_of("V3")
    assert (joint.kind, joint.reason) == ("by hand", "made up for the test")
    np.testing.assert_allclose(joint.X_WJ[:3, 3], (0.1, 0.0, 0.41), atol=1e-7)
    after = animal_scene.read_pose()
    for child, angles in before.angles_rad.items():
        np.testing.assert_allclose(after.angles_rad[child], angles, rtol=0, atol=1e-5)
    assert animal_scene.place_error(after)[0] < 1e-5 * animal_scene.size_m()
    bpy.ops.counterpoise.set_joint(child="V3", fixed=True, reason="glued")
    assert "V3" not in animal_scene.read_pose().angles_rad
    assert len([o for o in bpy.data.objects if o.type == "ARMATURE"]) == 1
    assert len(bpy.data.armatures) == 1


def test_a_lost_rig_and_proxy_are_built_again(animal_scene) -> None:
    bpy.data.objects.remove(animal_scene.rig)
    bpy.data.objects.remove(bpy.data.objects["V7"])
    assert not bpy.ops.counterpoise.save_pose.poll()
    assert bpy.ops.counterpoise.build_rig() == {"FINISHED"}
    assert animal_scene.place_error(animal_scene.read_pose())[0] < 1e-5 * animal_scene.size_m()


def test_the_document_file_is_the_cores(animal_scene, part, tmp_path: Path) -> None:
    pose_animal(animal_scene, 16)
    bpy.ops.counterpoise.save_pose(name="kept")
    path = tmp_path / "below" / "skeleton.json"
    path.parent.mkdir()
    assert bpy.ops.counterpoise.save_document(filepath=str(path)) == {"FINISHED"}
    reading, meshes = part("core_calcs.document.reading"), part("core_calcs.document.meshes")
    document = reading.read_document(path)
    assert {check.state for check in meshes.check_meshes(document, path)} == {"as recorded"}
    assert [pose.name for pose in document.poses] == ["as scanned", "kept"]
    before = animal_scene.settings.document.as_string()
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    assert bpy.ops.counterpoise.open_document(filepath=str(path)) == {"FINISHED"}
    opened, written = json.loads(animal_scene.settings.document.as_string()), json.loads(before)
    assert opened.pop("mesh_folder")
    assert written.pop("mesh_folder")
    assert opened == written
    bpy.ops.counterpoise.restore_pose(name="kept")
    assert animal_scene.place_error(document.poses[1])[0] < 1e-5 * animal_scene.size_m()


def test_the_blend_comes_back_and_finds_its_meshes(animal_scene, part, tmp_path: Path) -> None:
    pose_animal(animal_scene, 17)
    bpy.ops.counterpoise.save_pose(name="kept")
    before = animal_scene.read_pose()
    place = tmp_path / "elsewhere" / "posed.blend"
    place.parent.mkdir()
    bpy.ops.wm.save_as_mainfile(filepath=str(place))
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    bpy.ops.wm.open_mainfile(filepath=str(place))
    after = animal_scene.read_pose()
    for child, angles in before.angles_rad.items():
        np.testing.assert_allclose(after.angles_rad[child], angles, rtol=0, atol=1e-9)
    np.testing.assert_allclose(after.X_WN, before.X_WN, rtol=0, atol=1e-9)
    checks = part("core_calcs.document.meshes").check_meshes(animal_scene.document, place)
    assert {check.state for check in checks} == {"as recorded"}


def test_hand_over_is_written_for_the_poses_named(animal_scene, tmp_path: Path) -> None:
    bpy.ops.counterpoise.save_pose(name="neutral")
    pose_animal(animal_scene, 18)
    bpy.ops.counterpoise.save_pose(name="bent")
    folder = tmp_path / "handover"
    assert bpy.ops.counterpoise.hand_over(folder=str(folder), poses="bent") == {"FINISHED"}
    assert (folder / "skeleton.json").is_file()
    meshes = [path for path in folder.rglob("*.stl") if path.stat().st_size > 84]
    assert len(meshes) == 13


def test_handlers_of_undo_and_load_drop_results(animal_scene, part) -> None:
    handlers, figures = part("bridge.handlers"), part("bridge.figures")
    figures.refresh_figures(bpy.context)
    assert figures.live_figures() is not None
    assert handlers.forget_results in bpy.app.handlers.undo_post
    assert handlers.forget_results in bpy.app.handlers.redo_post
    assert handlers.forget_file in bpy.app.handlers.load_post
    handlers.forget_results()
    assert figures.live_figures() is None
    assert figures.saved_figures() == ()
    live, saved, current = figures.drawn_figures(bpy.context.scene)
    assert (live.pose, [row.pose for row in saved], current) == ("live pose", ["as scanned"], False)
    assert figures.refresh_figures(bpy.context)
    assert figures.drawn_figures(bpy.context.scene)[2]
    handlers.forget_file()
    assert figures.live_figures() is None
    assert figures.drawn_figures(bpy.context.scene) == (None, (), False)
