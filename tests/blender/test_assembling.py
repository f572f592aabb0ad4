"""A column put together by the operator: closed up, from loose scans, between pins; rig, meshes and records follow."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest
from animal import make_vertebra, write_stl
from scenes import Scene, scene_contents
from test_corrections import shown_points

op = bpy.ops.counterpoise
WHY = "mounted too wide"
GAP_M = 0.004


def gaps_of(scene: Scene) -> list[float]:
    return [scene.document.skeleton.joint_of(child).gap_m for child in ("L2", "L3")]


def check_places(scene: Scene) -> None:
    places, directions = scene.place_error(scene.read_pose())
    assert places < 1e-5
    assert directions < 1e-5


def assemble(**given) -> None:
    assert op.assemble("EXEC_DEFAULT", True, reason=WHY, **given) == {"FINISHED"}


def test_a_column_is_closed_up(column: Scene) -> None:
    column.settings.recorded_by = "A. B."
    unit = bpy.context.scene.unit_settings.scale_length
    before = gaps_of(column)
    assemble(gaps="LENGTH", gap=GAP_M / unit)
    assert gaps_of(column) == pytest.approx([GAP_M] * 2, rel=0.02)
    assert min(before) > 2 * GAP_M
    check_places(column)
    (record,) = column.document.records
    assert (record.kind, record.action, record.why, record.by) == ("correction", "assembled", WHY, "A. B.")
    assert [row.name for row in column.settings.poses] == ["as scanned", "as mounted before"]
    column.part("bridge.figures").refresh_figures(bpy.context)
    shown = column.part("bridge.figures").saved_figures()[-1].moved
    assert [element for element, _ in shown] == ["L2", "L3"]
    assert not op.put_back.poll()  # only a turn or an exchange can be


def heights_of(scene: Scene, folder: Path) -> dict[str, tuple[float, float]]:
    """Ventral and dorsal height of every disc, as the surfaces are written."""
    discs = scene.part("core_calcs.studies.disc_surfaces").make_disc_surfaces(scene.document, folder)
    return {disc.child: (disc.heights.ventral_m, disc.heights.dorsal_m) for disc in discs}


@pytest.fixture
def jointed(column: Scene, tmp_path: Path) -> tuple[Scene, Path]:
    """Three vertebrae with zygapophyses, which tell their backs, and the folder of their files."""
    rows = ["file,body,unit,element,series,position,side,parent,attachment,reason,origin\n"]
    for k, parent in enumerate(("", "L1", "L2"), start=1):
        write_stl(tmp_path / f"L{k}.stl", make_vertebra(-100.0 * k))
        rows.append(f"L{k}.stl,,mm,L{k},dorsal,{k},middle,{parent},{'column' if parent else 'root'},,scanned\n")
    (tmp_path / "elements.csv").write_text("".join(rows), encoding="utf-8")
    given = {"folder": str(tmp_path), "table_path": str(tmp_path / "elements.csv"), "unit": "mm", "name": "jointed"}
    assert op.import_skeleton(**given) == {"FINISHED"}
    return column, tmp_path


def test_discs_are_put_together_as_wedges(jointed: tuple[Scene, Path], tmp_path: Path) -> None:
    """By two heights for all, of one joint by a table."""
    column, folder = jointed
    unit = bpy.context.scene.unit_settings.scale_length
    table = tmp_path / "gaps.csv"
    table.write_text("joint,ventral_mm,dorsal_mm\nL3,3,7\n", encoding="utf-8")
    assemble(gaps="LENGTH", wedge=True, ventral=0.007 / unit, dorsal=0.004 / unit, table=str(table))
    found = heights_of(column, folder)
    assert found["L2"] == pytest.approx((0.007, 0.004), abs=4e-4)
    assert found["L3"] == pytest.approx((0.003, 0.007), abs=4e-4)
    check_places(column)
    (record,) = column.document.records
    assert "L2 7.0 mm ventral and 4.0 mm dorsal given for all" in record.evidence
    assert "L3 3.0 mm ventral and 7.0 mm dorsal given for it" in record.evidence
    bpy.ops.ed.undo_push(message="Wedges")
    assemble(gaps="SHARE", wedge=True, ventral_share=4.0, dorsal_share=6.0)
    ventral, dorsal = heights_of(column, folder)["L2"]
    assert ventral / dorsal == pytest.approx(4 / 6, abs=0.1)


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"gaps": "LENGTH", "wedge": True, "ventral": 1.0}, "its dorsal height is missing"),
        ({"gaps": "SHARE", "wedge": True, "dorsal_share": 5.0}, "its ventral height is missing"),
        ({"gaps": "BEFORE", "table": "nowhere.csv"}, r"nowhere\.csv"),
        ({"gaps": "BEFORE", "table": "{table}"}, "joint of L3 .*row 2.*dorsal_mm is missing"),
    ],
)
def test_gaps_that_are_not_whole_change_nothing(column: Scene, tmp_path: Path, given: dict, told: str) -> None:
    table = tmp_path / "gaps.csv"
    table.write_text("joint,ventral_mm,dorsal_mm\nL3,3,\n", encoding="utf-8")
    text, contents = column.settings.document.as_string(), scene_contents()
    filled = {name: str(table) if value == "{table}" else value for name, value in given.items()}
    with pytest.raises(RuntimeError, match=told):
        op.assemble("EXEC_DEFAULT", True, reason=WHY, **filled)
    assert (column.settings.document.as_string(), scene_contents()) == (text, contents)


def test_pins_stay_where_they_stand(column: Scene) -> None:
    proxies = {o["counterpoise_element"]: o for o in column.rig.children}
    for proxy in proxies.values():
        proxy.hide_select = False
        proxy.select_set(proxy["counterpoise_element"] == "L3")
    column.rig.select_set(False)
    bpy.context.view_layer.objects.active = proxies["L3"]
    was = {name: shown_points(column, name) for name in ("L1", "L2", "L3")}
    assemble(gaps="SHARE", share=5.0, pin=True)
    for name in ("L1", "L3"):
        np.testing.assert_allclose(shown_points(column, name), was[name], atol=1e-5)
    check_places(column)


def test_one_undo_takes_it_back(column: Scene) -> None:
    bpy.ops.ed.undo_push(message="Begin")
    text, contents = column.settings.document.as_string(), scene_contents()
    points = shown_points(column, "L3")
    assemble(gaps="SHARE", share=5.0)
    after = column.settings.document.as_string()
    assert np.abs(shown_points(column, "L3") - points).max() > 1e-3
    bpy.ops.ed.undo()
    assert (column.settings.document.as_string(), scene_contents()) == (text, contents)
    np.testing.assert_array_equal(shown_points(column, "L3"), points)
    bpy.ops.ed.redo()
    assert column.settings.document.as_string() == after
    check_places(column)


@pytest.fixture
def loose(column: Scene, column_blend: Path, tmp_path: Path) -> tuple[Scene, Path]:
    """The same scans said to stand anywhere, and a document in which their facets are known."""
    known = tmp_path / "known.json"
    assert op.save_document(filepath=str(known)) == {"FINISHED"}
    folder = column_blend.parent
    given = {"folder": str(folder), "table_path": str(folder / "elements.csv"), "unit": "mm", "name": "loose"}
    assert op.import_skeleton(loose=True, **given) == {"FINISHED"}
    return column, known


def test_loose_scans_are_put_together_by_an_earlier_documents_facets(loose: tuple[Scene, Path]) -> None:
    scene, known = loose
    assert not any(joint.moves for joint in scene.document.skeleton.joints)
    assemble(gaps="BEFORE", earlier=str(known))
    joints = scene.document.skeleton.joints
    assert [joint.moves for joint in joints] == [True, True]
    check_places(scene)
    assert len(scene.rig.pose.bones) == 3


def test_what_cannot_be_put_together_changes_nothing(loose: tuple[Scene, Path], tmp_path: Path) -> None:
    scene, known = loose
    text, contents = scene.settings.document.as_string(), scene_contents()
    broken = tmp_path / "broken.json"
    broken.write_text(known.read_text()[:200])
    for given, told in (
        ({"gaps": "BEFORE"}, "none of its facets are known"),
        ({"gaps": "SHARE", "share": 5.0, "earlier": str(tmp_path / "nowhere.json")}, r"nowhere\.json"),
        ({"gaps": "SHARE", "share": 5.0, "earlier": str(broken)}, r"broken\.json"),
        ({"gaps": "LENGTH", "gap": 90.0, "earlier": str(known)}, "L2"),
    ):
        with pytest.raises(RuntimeError, match=told):
            op.assemble("EXEC_DEFAULT", True, reason=WHY, **given)
        assert (scene.settings.document.as_string(), scene_contents()) == (text, contents)
