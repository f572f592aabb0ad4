"""The site and what acts there: said by operators, kept in the document, shown in words, undone."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from scenes import Scene

op = bpy.ops.counterpoise
SKULL = "V1"


def site_of(scene: Scene):
    return scene.document.site


def put_cursor(scene: Scene, element: str, part, offset=(0.0, 0.0, 0.0)) -> np.ndarray:
    """The cursor at a point of the element's frame in the live pose; returns its world place [m]."""
    bpy.context.view_layer.update()
    pose = scene.read_pose()
    X = part("core_calcs.skeleton.kinematics").place_elements(scene.document.skeleton, pose)
    own = X[scene.document.skeleton.index(element)]
    place = own[:3, :3] @ offset + own[:3, 3]
    bpy.context.scene.cursor.location = place / bpy.context.scene.unit_settings.scale_length
    return place


def centre_of(scene: Scene, element: str) -> np.ndarray:
    return np.array(scene.document.skeleton.elements[scene.document.skeleton.index(element)].solid.centre_m)


def shown(part):
    return part("bridge.site_text").drawn_site(bpy.context.scene)


def test_ground_wind_and_factors_are_kept_and_shown(animal_scene, part) -> None:
    before = len(animal_scene.document.records)
    assert op.set_site(ground=-0.5, friction=0.4) == {"FINISHED"}
    assert op.set_wind(pressure=650, coefficient=1.3, directions=24) == {"FINISHED"}
    site = site_of(animal_scene)
    assert (site.ground_m, site.friction, site.directions) == (-0.5, 0.4, 24)
    assert (site.wind.pressure_Pa, site.wind.force_coefficient) == (650.0, 1.3)
    assert len(animal_scene.document.records) == before
    figures = shown(part)
    assert figures.ground == (("Height", "-500 mm"), ("Friction", "0.4"))
    assert figures.wind[0] == ("Pressure", "650 Pa")
    assert not figures.changed
    # What is not given stays.
    assert op.set_site(reserve=0.02) == {"FINISHED"}
    assert (site_of(animal_scene).friction, site_of(animal_scene).reserve_m) == (0.4, 0.02)
    assert op.set_site(friction_known=False) == {"FINISHED"}
    assert op.set_wind(acts=False) == {"FINISHED"}
    assert (site_of(animal_scene).friction, site_of(animal_scene).wind) == (None, None)
    assert shown(part).ground[1] == ("Friction", "not known")
    assert shown(part).wind == (("Wind", "none"), ("Directions", "24"))


def test_factors_leave_a_record(animal_scene, part) -> None:
    animal_scene.settings.recorded_by = "A. Somebody"
    before = animal_scene.document.records
    assert op.set_factors(variable_against=1.35) == {"FINISHED"}
    factors = site_of(animal_scene).factors
    assert (factors.variable_against, factors.permanent_for) == (1.35, 0.9)
    assert (factors.strength_against, factors.reduction) == (1.35, 1.0)
    assert len(animal_scene.document.records) == len(before) + 1
    record = animal_scene.document.records[-1]
    assert (record.what, record.by) == ("partial factors: variable against 1.5 to 1.35", "A. Somebody")
    assert shown(part).changed
    assert animal_scene.settings.records[0].name == "Factors: the site"
    with pytest.raises(RuntimeError, match=r"factor variable against: it is 0\. Give a factor above 0"):
        op.set_factors(variable_against=0)
    assert site_of(animal_scene).factors == factors


def test_footings(animal_scene, part) -> None:
    part("bridge.figures").refresh_figures(bpy.context)  # as the timer does
    assert [own.text for own in shown(part).footings] == ["level ground"] * 4
    foot = "fore left foot"
    assert op.set_footing(foot=foot, height=0.05, anchored=True, anchor_known=True, anchor=20) == {"FINISHED"}
    (footing,) = site_of(animal_scene).footings
    assert (footing.foot, footing.height_m, footing.anchored, footing.anchor_N) == (foot, 0.05, True, 20e3)
    own = next(own for own in shown(part).footings if own.foot == foot)
    assert (own.text, own.said) == ("ground 50 mm above the site's, anchored, holds 20.0 kN", True)
    with pytest.raises(RuntimeError, match="footing of nobody: nothing of that name touches the ground"):
        op.set_footing(foot="nobody", height=0.1)
    assert op.remove_footing(foot=foot) == {"FINISHED"}
    assert site_of(animal_scene).footings == ()


def test_an_action_at_the_cursor_on_the_active_element(animal_scene, part) -> None:
    assert not op.add_action.poll()
    assert op.select_element(element=SKULL) == {"FINISHED"}
    point = centre_of(animal_scene, SKULL) + np.array([0.002, 0, 0.003])
    put_cursor(animal_scene, SKULL, part, point)
    assert op.add_action(kind="person") == {"FINISHED"}
    (action,) = site_of(animal_scene).actions
    assert (action.name, action.kind, action.element) == (f"person on {SKULL}", "person", SKULL)
    assert (action.force_N, action.direction) == (2000.0, None)
    np.testing.assert_allclose(action.point_m, point, atol=1e-6)
    assert shown(part).actions[0].text == f"2.00 kN down on {SKULL}"


def test_it_keeps_to_its_element_in_a_pose(animal_scene, part) -> None:
    """The cursor is read in the live pose, of the active bone in pose mode, and direction is the world's."""
    child = animal_scene.moving_joints()[0].child
    animal_scene.write_pose({child: np.radians([5.0, 0.0, 0.0])})
    point = centre_of(animal_scene, child)
    place = put_cursor(animal_scene, child, part, point)
    bpy.context.view_layer.objects.active = animal_scene.rig
    bpy.ops.object.mode_set(mode="POSE")
    animal_scene.rig.data.bones.active = animal_scene.bone_of(child).bone
    assert op.add_action(kind="pull", force=0.5, direction=(3, 0, -4), name="rope") == {"FINISHED"}
    (action,) = site_of(animal_scene).actions
    assert (action.element, action.force_N) == (child, 500.0)
    np.testing.assert_allclose(action.direction, [0.6, 0, -0.8])
    np.testing.assert_allclose(action.point_m, point, atol=1e-6)
    kinematics = part("core_calcs.skeleton.kinematics")
    X = kinematics.place_elements(animal_scene.document.skeleton, animal_scene.read_pose())
    own = X[animal_scene.document.skeleton.index(child)]
    np.testing.assert_allclose(own[:3, :3] @ action.point_m + own[:3, 3], place, atol=1e-6)


def test_a_cursor_far_off_is_refused(animal_scene, part) -> None:
    assert op.select_element(element=SKULL) == {"FINISHED"}
    bpy.context.scene.cursor.location = (50, 0, 0)
    with pytest.raises(RuntimeError, match=f"action push on {SKULL}: its point is .* m off {SKULL}"):
        op.add_action(kind="push")
    assert site_of(animal_scene).actions == ()


def test_undo_takes_it_back(animal_scene, part) -> None:
    bpy.ops.ed.undo_push(message="before")
    assert op.set_wind("EXEC_DEFAULT", True, pressure=500) == {"FINISHED"}
    assert op.select_element("EXEC_DEFAULT", True, element=SKULL) == {"FINISHED"}
    put_cursor(animal_scene, SKULL, part, centre_of(animal_scene, SKULL))
    assert op.add_action("EXEC_DEFAULT", True, kind="push") == {"FINISHED"}
    assert op.remove_action("EXEC_DEFAULT", True, name=f"push on {SKULL}") == {"FINISHED"}
    assert site_of(animal_scene).actions == ()
    bpy.ops.ed.undo()
    assert [own.name for own in site_of(animal_scene).actions] == [f"push on {SKULL}"]
    bpy.ops.ed.undo()
    assert site_of(animal_scene).actions == ()
    assert site_of(animal_scene).wind.pressure_Pa == 500
    with pytest.raises(RuntimeError, match="action gone: there is none of that name"):
        op.remove_action(name="gone")


def find_check(part, start: str):
    bpy.context.view_layer.update()
    part("bridge.figures").refresh_figures(bpy.context)
    live = part("bridge.figures").drawn_live(bpy.context.scene)[1]
    return next(check for check in live.found.checks if check.name.startswith(start))


def test_wind_counts_once_its_silhouettes_are_measured(animal_scene, part) -> None:
    with pytest.raises(RuntimeError, match="wind: none is set"):
        op.measure_wind()
    assert op.stand() == {"FINISHED"}
    assert op.set_site(friction=0.5) == {"FINISHED"}
    assert op.set_wind(pressure=1e6, directions=8) == {"FINISHED"}
    assert find_check(part, "Stands against").state == "not known"
    words = part("bridge.site_text").drawn_wind
    assert words(bpy.context.scene) == "Not known in the live pose: its silhouettes are not measured."
    assert op.measure_wind() == {"FINISHED"}
    assert find_check(part, "Stands against").state == "fails"
    assert words(bpy.context.scene).startswith("Largest silhouette of the live pose ")
    # Another pressure needs no new silhouettes; another pose, or other directions, do.
    assert op.set_wind(pressure=1e-3) == {"FINISHED"}
    assert find_check(part, "Stands against").state != "not known"
    child = animal_scene.moving_joints()[0].child
    animal_scene.write_pose({child: np.radians([4.0, 0.0, 0.0])})
    part("bridge.figures").refresh_figures(bpy.context)
    assert words(bpy.context.scene).startswith("Not known in the live pose")
