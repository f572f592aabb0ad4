"""Range arcs of the joint in hand: the arrays that are given to the drawing, held against the core's kinematics."""

from __future__ import annotations

from types import SimpleNamespace

import bpy
import numpy as np
import pytest
from mathutils import Vector
from scenes import Scene, take_bone
from test_overlays import refresh, write_joint

TURNS = {"V4": np.array([0.3, -0.2, 0.15])}


def find(scene: Scene) -> tuple:
    refresh(scene)
    return scene.part("bridge.arcs").find_arcs(bpy.context)


def limit(scene: Scene, low: float, high: float):
    joints = scene.part("core_calcs.skeleton.joint")
    return joints.AxisLimit(joints.Stop(low, "by hand", None), joints.Stop(high, "by hand", None))


def aim(arc, angle_rad: float) -> np.ndarray:
    return np.cos(angle_rad) * arc.zero + np.sin(angle_rad) * arc.across


@pytest.fixture
def in_hand(animal_scene: Scene) -> Scene:
    write_joint(animal_scene, "V4", limits=tuple(limit(animal_scene, -0.5, 0.4 + 0.1 * i) for i in range(3)))
    take_bone(animal_scene, "V4")
    return animal_scene


@pytest.mark.parametrize("alone", [None, 0, 1, 2])
def test_the_present_angles_lie_where_the_bone_points(in_hand: Scene, alone: int | None) -> None:
    """The lateral arc's bead is on the child's axis in any pose; the flexion's where no other axis is turned; the
    axial one's turns about it. The parent is turned too, and the whole moved."""
    angles = TURNS["V4"] if alone is None else np.where(np.arange(3) == alone, TURNS["V4"], 0.0)
    X_WN = np.eye(4)
    X_WN[:3, 3] = (0.3, -0.2, 0.1)
    pose = in_hand.write_pose({"V4": angles}, X_WN)
    skeleton = in_hand.document.skeleton
    joint = skeleton.joint_of("V4")
    motions = in_hand.part("core_calcs.skeleton.kinematics").joint_motions(skeleton, pose)
    child, parent = (motions[skeleton.index(name)] @ joint.X_WJ for name in ("V4", "V5"))
    flexion, lateral, axial = arcs = find(in_hand)
    assert [arc.axis for arc in arcs] == ["flexion", "lateral", "axial"]
    for arc in arcs:
        np.testing.assert_allclose(arc.centre, parent[:3, 3], atol=2e-6)
        np.testing.assert_allclose(
            [arc.zero @ arc.zero, arc.across @ arc.across, arc.zero @ arc.across], [1, 1, 0], atol=1e-6
        )
    np.testing.assert_allclose(aim(lateral, lateral.angle_rad), child[:3, 1], atol=1e-5)
    np.testing.assert_allclose(aim(axial, axial.angle_rad), child[:3, 2], atol=1e-5)
    np.testing.assert_allclose(axial.along, child[:3, 1], atol=1e-5)
    np.testing.assert_allclose(aim(flexion, 0.0), parent[:3, 1], atol=1e-5)
    if not angles[1]:
        np.testing.assert_allclose(aim(flexion, flexion.angle_rad), child[:3, 1], atol=1e-5)
    assert not flexion.along.any()


def test_what_is_told(in_hand: Scene) -> None:
    in_hand.settings.hold_limits = False
    in_hand.write_pose({"V4": np.array([0.45, -0.2, 0.0])})
    flexion, lateral, axial = find(in_hand)
    assert flexion.text == "flexion 25.8° of -28.6° to 22.9°"
    assert flexion.outside
    assert flexion.inside_deg == pytest.approx(np.degrees(0.4 - 0.45), abs=1e-3)
    assert (lateral.text, lateral.outside) == ("lateral -11.5° of -28.6° to 28.6°", False)
    assert lateral.inside_deg == pytest.approx(np.degrees(0.3), abs=1e-3)
    assert (axial.low_rad, axial.high_rad) == (-0.5, pytest.approx(0.6))


def test_what_has_no_range_has_no_arc(in_hand: Scene) -> None:
    write_joint(in_hand, "V4", limits=(limit(in_hand, -0.5, 0.4), limit(in_hand, 0.0, 0.0), limit(in_hand, 0.0, 0.2)))
    assert [arc.axis for arc in find(in_hand)] == ["flexion", "axial"]
    write_joint(in_hand, "V4", limits=None)
    assert find(in_hand) == ()


def test_off_or_nothing_in_hand(in_hand: Scene) -> None:
    assert len(find(in_hand)) == 3
    in_hand.settings.overlays.arcs = False
    assert find(in_hand) == ()
    in_hand.settings.overlays.arcs = True
    bpy.ops.object.mode_set(mode="OBJECT")
    assert find(in_hand) == ()


def test_labels_of_arcs_keep_off_the_rings_that_are_drawn_after_them(in_hand: Scene, monkeypatch) -> None:
    """A joint at its limit has a ring at its centre, about which its arcs' labels stand."""
    marks = in_hand.part("draw.marks")
    seen = {(0.0, 0.0, 1.0): Vector((300.0, 200.0)), (0.0, 0.0, 2.0): None}
    monkeypatch.setattr(marks, "location_3d_to_region_2d", lambda _region, _view, place: seen[tuple(place)])
    ringed = SimpleNamespace(place=(0.0, 0.0, 1.0), ringed=True)
    bare = SimpleNamespace(place=(0.0, 0.0, 1.0), ringed=False)
    behind = SimpleNamespace(place=(0.0, 0.0, 2.0), ringed=True)
    taken: list = []
    monkeypatch.setattr(marks, "bpy", SimpleNamespace(context=SimpleNamespace(region=None, region_data=None)))
    monkeypatch.setattr(marks, "screen_scale", lambda: 1.0)
    marks.keep_off_rings([ringed, bare, behind], taken)
    ((left, low, right, high),) = taken
    assert ((left + right) / 2, (low + high) / 2) == (300.0, 200.0)
    assert right - left == high - low == 2 * marks.RADIUS_PX
    layers = in_hand.part("draw.view").follow.__code__.co_names
    assert layers.index("keep_off_rings") < layers.index("draw_arc_notes")


def test_lines_to_labels_are_drawn_before_every_label(in_hand: Scene, monkeypatch) -> None:
    """No line runs through a text, of its own label or of another's."""
    arcs, drawn = in_hand.part("draw.arcs"), []
    state = SimpleNamespace(blend_set=lambda _mode: None)
    stands_in = {
        "bpy": SimpleNamespace(context=None),
        "blf": SimpleNamespace(size=lambda *_: None),
        "gpu": SimpleNamespace(state=state),
        "screen_scale": lambda: 1.0,
        "measure_radius": lambda _centre: 1.0,
        "measure_label": lambda text: (8.0 * len(text), 20.0),
        "find_free": lambda _context: (0.0, 0.0, 900.0, 700.0),
        "_project": lambda point: (400.0 + 10 * float(point[0]), 300.0 + 10 * float(point[2])),
        "draw_leader": lambda *_: drawn.append("line"),
        "draw_label": lambda *_: drawn.append("label"),
        "_draw_bead": lambda *_: None,
    }
    found = find(in_hand)
    for name, one in stands_in.items():
        monkeypatch.setattr(arcs, name, one)
    arcs.draw_arc_notes(found, [])
    assert drawn == 3 * ["line"] + 3 * ["label"]
