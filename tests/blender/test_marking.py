"""A facet selected on a proxy in Edit Mode tells a joint, through the operator."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest
from animal import write_stl
from scenes import Scene

HEADER = "file,body,unit,element,series,position,side,parent,attachment,reason,origin\n"


def turned_box(radius: float, inner: float, half_width: float, span: tuple[float, float]) -> np.ndarray:
    """Triangles (m, 3, 3) of a ring sector about y, from one angle to the other, closed [mm]."""
    angles = np.radians(np.linspace(*span, 49))
    rows = []
    for away in (radius, inner):
        for y in (-half_width, half_width):
            rows.append(np.column_stack([away * np.sin(angles), np.full_like(angles, y), away * np.cos(angles)]))
    outer_l, outer_r, inner_l, inner_r = rows
    made = []
    for first, second in ((outer_l, outer_r), (outer_r, inner_r), (inner_r, inner_l), (inner_l, outer_l)):
        for k in range(len(angles) - 1):
            a, b, c, d = first[k], first[k + 1], second[k + 1], second[k]
            made += [(a, d, c), (a, c, b)]
    for k, order in ((0, 1), (-1, -1)):
        a, b, c, d = outer_l[k], outer_r[k], inner_r[k], inner_l[k]
        made += [tri[::order] for tri in ((a, c, b), (a, d, c))]
    return np.array(made)


@pytest.fixture
def hinge(tmp_path: Path, part) -> Scene:
    """An arm whose roller meets a forearm's hollow, fixed by the table."""
    write_stl(tmp_path / "arm.stl", turned_box(40, 10, 30, (-85, 85)))
    write_stl(tmp_path / "forearm.stl", turned_box(70, 42, 28, (-30, 30)))
    rows = "arm.stl,,mm,arm,limb,,left,,root,,made up\nforearm.stl,,mm,forearm,limb,,left,arm,fixed,glued,made up\n"
    table = tmp_path / "elements.csv"
    table.write_text(HEADER + rows.replace("made up", "sculpted"), encoding="utf-8")
    done = bpy.ops.counterpoise.import_skeleton(folder=str(tmp_path), table_path=str(table), unit="mm", name="hinge")
    assert done == {"FINISHED"}
    return Scene(part)


def clear_selection(mesh: bpy.types.Mesh) -> None:
    for things in (mesh.vertices, mesh.edges, mesh.polygons):
        things.foreach_set("select", [False] * len(things))


def select_roller() -> None:
    """In Edit Mode, the faces of the arm that look outwards."""
    assert bpy.ops.counterpoise.select_element(element="arm") == {"FINISHED"}
    proxy = bpy.context.active_object
    bpy.context.tool_settings.mesh_select_mode = (False, False, True)
    clear_selection(proxy.data)
    for polygon in proxy.data.polygons:
        out = np.array(polygon.normal) * (1, 0, 1)
        polygon.select = bool(out @ np.array(proxy.matrix_world @ polygon.center) > 0.8 * 0.04)
    bpy.ops.object.mode_set(mode="EDIT")


def test_selected_faces_tell_the_joint(hinge: Scene) -> None:
    assert not hinge.moving_joints()
    select_roller()
    assert bpy.ops.counterpoise.mark_facet(child="forearm", family="hinge") == {"FINISHED"}
    (joint,) = hinge.moving_joints()
    assert joint.fit.family == "hinge"
    assert abs(joint.X_WJ[1, 0]) > 0.999
    assert np.hypot(joint.X_WJ[0, 3], joint.X_WJ[2, 3]) < 0.001
    assert joint.marks[0].element == "arm"
    assert "forearm" in bpy.context.scene.counterpoise.rig.pose.bones
    assert bpy.context.object.mode != "EDIT"


def test_nothing_selected_is_told_and_changes_nothing(hinge: Scene) -> None:
    before = bpy.context.scene.counterpoise.document.as_string()
    assert bpy.ops.counterpoise.select_element(element="arm") == {"FINISHED"}
    clear_selection(bpy.context.active_object.data)
    with pytest.raises(RuntimeError, match="no face of it is selected"):
        bpy.ops.counterpoise.mark_facet(child="forearm")
    assert bpy.context.scene.counterpoise.document.as_string() == before


def test_an_end_plate_selected_is_the_facet(column: Scene) -> None:
    """The upper half of the plate of L2 that looks to L1, towards the head."""
    before = column.document.skeleton.joint_of("L2")
    assert bpy.ops.counterpoise.select_element(element="L2") == {"FINISHED"}
    proxy = bpy.context.active_object
    bpy.context.tool_settings.mesh_select_mode = (False, False, True)
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.mesh.subdivide(number_cuts=3)
    bpy.ops.object.mode_set(mode="OBJECT")
    clear_selection(proxy.data)
    ends = max(polygon.center.x for polygon in proxy.data.polygons) - 1e-5
    for polygon in proxy.data.polygons:
        polygon.select = polygon.center.x > ends and polygon.center.z > 0
    bpy.ops.object.mode_set(mode="EDIT")
    assert bpy.ops.counterpoise.mark_facet(child="L2") == {"FINISHED"}
    joint = column.document.skeleton.joint_of("L2")
    assert [(mark.element, mark.kind) for mark in joint.marks] == [("L2", "centrum")]
    assert (joint.kind, joint.confidence) == ("column", "found")
    plate = next(facet for facet in joint.facets if facet.element == "L2" and facet.kind == "centrum")
    whole = next(facet for facet in before.facets if facet.element == "L2" and facet.kind == "centrum")
    assert plate.how == "marked by hand"
    assert 0.3 < plate.area_m2 / whole.area_m2 < 0.8
    assert bpy.ops.counterpoise.search_joint(child="L2", from_nothing=True) == {"FINISHED"}
    assert column.document.skeleton.joint_of("L2").marks == ()
