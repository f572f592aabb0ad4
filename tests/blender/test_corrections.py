"""Elements put right by the operator: document, rig, meshes and figures follow; undone, put back, kept in a file."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import bpy
import numpy as np
import pytest
from scenes import Scene, scene_contents
from verdicts import find_places, keep_verdicts

op = bpy.ops.counterpoise
WHY = "its narrow end faces the head"
ANGLES = {"L3": np.array([0.02, 0.01, 0.0])}


def shown_points(scene: Scene, element: str) -> np.ndarray:
    """Vertices of an element's proxy as Blender shows them [m], in order."""
    proxy = next(o for o in scene.rig.children if o["counterpoise_element"] == element)
    bpy.context.view_layer.update()
    points = np.array([proxy.matrix_world @ vertex.co for vertex in proxy.data.vertices])
    points = points.round(6) + 0.0
    return points[np.lexsort(points.T)]


def check_whole(scene: Scene) -> None:
    """Rig, proxies, limits and figures are those of the document, at neutral and bent."""
    document, part = scene.document, scene.part
    for pose in (scene.read_pose, lambda: scene.write_pose(ANGLES), lambda: scene.write_pose({})):
        places, directions = scene.place_error(pose())
        assert places < 1e-5
        assert directions < 1e-5
    plan = part("core_calcs.studies.rigging").plan_rig(document.skeleton)
    for bone in plan.bones[1:]:
        own = scene.bone_of(bone.element)
        np.testing.assert_allclose(own.bone.head_local, bone.X_WB[:3, 3], atol=1e-5)
        limit = own.constraints["Joint limits"]
        found = [[limit.min_x, limit.max_x], [limit.min_z, limit.max_z], [limit.min_y, limit.max_y]]
        np.testing.assert_allclose(found, bone.limits_rad, atol=1e-3)
    figures, text = part("bridge.figures"), part("bridge.figure_text")
    figures.refresh_figures(bpy.context)
    prepared = part("core_calcs.studies.prepared").prepare(document.skeleton, document.build)
    summarise = part("core_calcs.studies.assess").summarise_prepared
    fresh = text.word_figures(summarise(prepared, scene.read_pose(), document.site))
    assert figures.live_figures() == fresh


def put_right(**given: Any) -> None:
    assert op.put_right("EXEC_DEFAULT", True, reason=WHY, **given) == {"FINISHED"}


def test_an_element_is_turned_with_joints_limits_rig_and_figures(crooked: Scene) -> None:
    crooked.settings.recorded_by = "A. B."
    keep_verdicts(crooked, ("turned", "wrong", ("L2",)))
    crooked.write_pose(ANGLES)
    before, seen = crooked.document, shown_points(crooked, "L2")
    put_right()
    after = crooked.document
    np.testing.assert_allclose(crooked.read_pose().angles_rad["L3"], ANGLES["L3"], atol=1e-5)
    check_whole(crooked)
    assert [o["counterpoise_element"] for o in bpy.context.selected_objects] == ["L2"]
    centre = seen.mean(axis=0)
    turned = (seen - centre) * (-1, -1, 1) + centre
    turned = turned[np.lexsort(turned.round(6).T)]
    np.testing.assert_allclose(shown_points(crooked, "L2").mean(axis=0)[1:], turned.mean(axis=0)[1:], atol=1e-5)
    was, now = (sum(f.area_m2 for f in d.skeleton.joint_of("L2").facets) for d in (before, after))
    assert now > was  # plates of the same size face each other again
    (record,) = after.records
    assert (record.kind, record.action, record.elements) == ("correction", "turned", ("L2",))
    assert (record.what, record.why, record.by) == ("turned end for end", WHY, "A. B.")
    assert "facets that meet [s2] 0.312" in record.evidence
    assert [row.name for row in crooked.settings.records] == ["Turned: L2"]
    assert [row.name for row in crooked.settings.poses] == ["as scanned", "as mounted before"]


def test_what_is_undecided_is_put_right_the_way_that_is_chosen(crooked: Scene, part) -> None:
    verdicts = (("turned", "undecided", ("L2",)), ("turned", "wrong", ("L4",)), ("turned", "as placed", ("L3",)))
    keep_verdicts(crooked, *verdicts)
    told = crooked.part("bridge.audit").drawn_audit(bpy.context.scene)
    assert [own.choices for own in (*told.undecided, *told.wrong)] == [("end for end",), ()]
    assert [own.choices for own in told.as_placed] == [("end for end",)]
    places = find_places(crooked, "turned", ("L2",))
    before = crooked.document
    put_right(number=0, way="end for end")
    check_whole(crooked)
    (record,) = crooked.document.records
    assert (record.action, record.elements, record.what, record.why) == ("turned", ("L2",), "turned end for end", WHY)
    assert "chosen by hand where the audit could not tell" in record.evidence
    wanted = part("core_calcs.studies.corrections").correct(
        before, Path(bpy.data.filepath).parent, "turned", places, record
    )
    i = wanted.skeleton.index("L2")
    np.testing.assert_allclose(crooked.document.skeleton.elements[i].X_WE, wanted.skeleton.elements[i].X_WE)


def test_it_is_what_the_core_makes_of_it(crooked: Scene, crooked_blend: Path, part) -> None:
    keep_verdicts(crooked, ("turned", "wrong", ("L2",)))
    correct = part("core_calcs.studies.corrections").correct
    places = find_places(crooked, "turned", ("L2",))
    put_right()
    found = crooked.document
    bpy.ops.wm.open_mainfile(filepath=str(crooked_blend))
    wanted = correct(crooked.document, crooked_blend.parent, "turned", places, found.records[-1])
    to_text = part("core_calcs.document.reading").document_to_text
    assert to_text(found) == to_text(wanted)


def test_two_are_exchanged_and_show_each_others_surface(crooked: Scene) -> None:
    own = {name: shown_points(crooked, name) for name in ("L2", "L4")}
    text = crooked.text_but("records", "poses")
    keep_verdicts(crooked, ("exchanged", "wrong", ("L2", "L4")))
    put_right()
    check_whole(crooked)
    for name, other in (("L2", "L4"), ("L4", "L2")):
        was, now = own[other], shown_points(crooked, name)
        np.testing.assert_allclose(np.ptp(now, axis=0), np.ptp(was, axis=0), atol=1e-6)
    files = {element.name: element.source.file for element in crooked.document.skeleton.elements}
    assert (files["L2"], files["L4"]) == ("L4.stl", "L2.stl")
    assert op.put_back("EXEC_DEFAULT", True, reason="it was right") == {"FINISHED"}
    check_whole(crooked)
    for name, points in own.items():
        np.testing.assert_allclose(shown_points(crooked, name), points, atol=2e-6)
    assert crooked.text_but("records", "poses") == text
    assert [(r.action, r.why) for r in crooked.document.records] == [("exchanged", WHY), ("put back", "it was right")]
    assert not op.put_back.poll()


def state(scene: Scene) -> tuple[Any, ...]:
    contents = scene_contents()
    meshes = {name: shown_points(scene, name).tolist() for name in ("L1", "L2", "L3", "L4")}
    rows = [row.name for row in scene.settings.records], [row.name for row in scene.settings.poses]
    return scene.settings.document.as_string(), contents, meshes, rows


@pytest.mark.parametrize("fault", ["turned", "exchanged"])
def test_undo_takes_it_back_and_redo_does_it_again(crooked: Scene, fault: str) -> None:
    bpy.ops.ed.undo_push(message="Begin")
    before = state(crooked)
    keep_verdicts(crooked, (fault, "wrong", ("L2",) if fault == "turned" else ("L2", "L4")))
    put_right()
    after = state(crooked)
    assert after[0] != before[0]
    bpy.ops.ed.undo()
    assert state(crooked) == before
    assert crooked.part("bridge.audit").drawn_audit(bpy.context.scene) is None
    bpy.ops.ed.redo()
    assert state(crooked) == after
    check_whole(crooked)


def test_a_file_keeps_records_poses_and_corrections(crooked: Scene, tmp_path: Path) -> None:
    keep_verdicts(crooked, ("turned", "wrong", ("L2",)), ("exchanged", "wrong", ("L3", "L4")))
    put_right(number=0)
    folder = Path(bpy.data.filepath).parent
    shutil.copytree(folder, tmp_path / "moved")
    before = crooked.text_but()
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "moved" / "kept.blend"))
    text = crooked.settings.document.as_string()
    assert "end for end 3.25" in before
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "moved" / "kept.blend"))
    assert crooked.settings.document.as_string() == text
    check_whole(crooked)
    assert crooked.part("bridge.audit").drawn_audit(bpy.context.scene) is None  # results are no part of the file
    assert op.put_back(reason="tried") == {"FINISHED"}
    check_whole(crooked)


def test_verdicts_count_until_what_they_rest_on_changes(crooked: Scene) -> None:
    audit = crooked.part("bridge.audit")
    keep_verdicts(
        crooked,
        ("turned", "wrong", ("L2",)),
        ("turned", "undecided", ("L3",)),
        ("turned", "as placed", ("L4",)),
        ("mirrored", "wrong", ("L1",)),
    )
    told = audit.drawn_audit(bpy.context.scene)
    assert [own.title for own in told.wrong] == ["L2", "L1"]
    assert ([own.title for own in told.undecided], [own.title for own in told.as_placed]) == (["L3"], ["L4"])
    assert told.wrong[0].ways == (("end for end", "3.25"), ("as placed", "1.50"))
    assert told.wrong[0].table == (("facets that meet [s2]", ("0.312", "–")),)
    assert op.save_pose(name="bent") == {"FINISHED"}  # nothing of the skeleton
    assert audit.drawn_audit(bpy.context.scene).dropped == 0
    put_right()
    told = audit.drawn_audit(bpy.context.scene)
    assert (told.wrong, told.undecided, told.dropped) == ((), (), 3)
    assert [own.title for own in told.as_placed] == ["L4"]  # it touches L3 alone


def test_a_mirrored_surface_is_mirrored_in_its_place(crooked: Scene, tmp_path: Path) -> None:
    shutil.copytree(Path(bpy.data.filepath).parent, tmp_path / "moved")
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "moved" / "crooked.blend"))
    keep_verdicts(crooked, ("mirrored", "wrong", ("L3",)))
    seen = shown_points(crooked, "L3")
    put_right()
    check_whole(crooked)
    np.testing.assert_allclose(np.ptp(shown_points(crooked, "L3"), axis=0), np.ptp(seen, axis=0), atol=2e-3)
    element = crooked.document.skeleton.elements[crooked.document.skeleton.index("L3")]
    assert element.source.file.startswith("made/")
    record = crooked.document.records[-1]
    assert (record.elements, record.why) == (("L3",), WHY)
    assert "end for end 3.25" in record.evidence


def test_a_click_selects_the_elements_and_shows_the_verdict(crooked: Scene) -> None:
    keep_verdicts(crooked, ("turned", "wrong", ("L2",)), ("exchanged", "undecided", ("L3", "L4")))
    audit = crooked.part("bridge.audit")
    assert audit.shown_in_full(bpy.context.scene) == 0
    assert op.show_verdict(number=1) == {"FINISHED"}
    assert audit.shown_in_full(bpy.context.scene) == 1
    assert sorted(o["counterpoise_element"] for o in bpy.context.selected_objects) == ["L3", "L4"]
    with pytest.raises(RuntimeError, match="none of that number"):
        op.show_verdict(number=7)


def test_what_cannot_be_put_right_is_refused_and_nothing_changes(crooked: Scene, tmp_path: Path) -> None:
    keep_verdicts(
        crooked,
        ("turned", "wrong", ("L2",)),
        ("turned", "undecided", ("L3",)),
        ("mirrored", "undecided", ("L4",)),
        ("exchanged", "wrong", ("L3", "L4")),
    )
    before = state(crooked)
    for given, message in (
        ({"number": 0, "reason": " "}, "Give a reason"),
        ({"number": 1, "reason": WHY}, "did not find it wrong"),
        ({"number": 2, "reason": WHY}, "did not find it wrong"),
        ({"number": 1, "way": "sideways", "reason": WHY}, "Choose one of: end for end"),
        ({"number": 1, "way": "end for end", "reason": " "}, "Give a reason"),
        ({"number": 0, "way": "end for end", "reason": WHY}, "the audit has decided"),
        ({"number": 9, "reason": WHY}, "Audit it again"),
    ):
        with pytest.raises(RuntimeError, match=message):
            op.put_right("EXEC_DEFAULT", True, **given)
        assert state(crooked) == before
    proxy = next(o for o in crooked.rig.children if o["counterpoise_element"] == "L4")
    bpy.data.objects.remove(proxy)
    with pytest.raises(RuntimeError, match="not in the view"):
        op.put_right("EXEC_DEFAULT", True, number=3, reason=WHY)
    file = Path(bpy.data.filepath).parent / "L2.stl"
    content = file.read_bytes()
    try:
        file.write_bytes(content[:-1] + bytes([content[-1] ^ 1]))
        with pytest.raises(RuntimeError, match=r"L2\.stl"):
            op.put_right("EXEC_DEFAULT", True, number=0, reason=WHY)
    finally:
        file.write_bytes(content)
    assert crooked.settings.document.as_string() == before[0]


def test_the_audit_says_what_the_core_says_and_changes_nothing(crooked: Scene) -> None:
    before = state(crooked)
    assert op.audit_orientation() == {"FINISHED"}
    told = crooked.part("bridge.audit").drawn_audit(bpy.context.scene)
    audit_document = crooked.part("core_calcs.studies.audit").audit_document
    wanted = audit_document(crooked.document, Path(bpy.data.filepath).parent)
    for decision, shown in (("wrong", told.wrong), ("undecided", told.undecided), ("as placed", told.as_placed)):
        assert [own.elements for own in shown] == [own.elements for own in wanted.list_decided(decision)]
    assert told.left_out == wanted.left_out
    tried = [own.elements[0] for own in wanted.verdicts] + [name for name, _ in wanted.left_out]
    assert sorted(tried) == ["L1", "L2", "L3", "L4"]
    assert state(crooked) == before
    Path(bpy.data.filepath).with_name("L3.stl").rename(Path(bpy.data.filepath).with_name("away"))
    try:
        with pytest.raises(RuntimeError, match=r"L3\.stl"):
            op.audit_orientation()
    finally:
        Path(bpy.data.filepath).with_name("away").rename(Path(bpy.data.filepath).with_name("L3.stl"))
    assert crooked.part("bridge.audit").drawn_audit(bpy.context.scene) == told


def test_the_audit_takes_in_the_limbs(animal_scene: Scene) -> None:
    assert op.audit_orientation() == {"FINISHED"}
    told = animal_scene.part("bridge.audit").drawn_audit(bpy.context.scene)
    shown = {name for own in (*told.wrong, *told.undecided, *told.as_placed) for name in own.elements}
    audit_limbs = animal_scene.part("core_calcs.studies.audit_limbs").audit_limbs
    wanted = audit_limbs(animal_scene.document, Path(animal_scene.settings.mesh_folder))
    assert wanted
    assert shown >= {name for verdict in wanted for name in verdict.elements}
