"""What is drawn over the view: the arrays that are given to the drawing, for there is no window here."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import bpy
import numpy as np
import pytest
from scenes import Scene, take_bone

CENTROID = np.array([0.03, 0.002, 0.41])
NORMAL = np.array([0.6, 0.0, 0.8])
AREA = 4e-4
STOP = np.array([0.02, 0.01, 0.42])


def write_joint(scene: Scene, child: str, **changes: object) -> None:
    """Change a joint in the document alone: its frame stays, and so the rig fits it."""
    document = scene.document
    joints = tuple(replace(one, **changes) if one.child == child else one for one in document.skeleton.joints)
    skeleton = replace(document.skeleton, joints=joints)
    scene.part("bridge.kept_document").write_text(scene.settings.document, replace(document, skeleton=skeleton))
    refresh(scene)


def refresh(scene: Scene) -> None:
    bpy.context.view_layer.update()
    scene.part("bridge.figures").refresh_figures(bpy.context)


def make_facets(scene: Scene) -> tuple:
    facet = scene.part("core_calcs.skeleton.joint").Facet
    given = {"centroid_m": CENTROID, "normal": NORMAL, "area_m2": AREA, "gap_m": 0.001}
    return facet("centrum", "V5", **given), facet("centrum", "V4", **given | {"normal": -NORMAL})


@pytest.fixture
def faceted(animal_scene: Scene) -> Scene:
    """The joint of V4 on V5 rests on two facets, and is found; all facets are shown."""
    write_joint(animal_scene, "V4", facets=make_facets(animal_scene), kind="column", confidence="found")
    animal_scene.settings.overlays.facets = "ALL"
    return animal_scene


def find(scene: Scene):
    return scene.part("bridge.posed_facets").find_facets(bpy.context)


def area_of(triangles: np.ndarray) -> float:
    a, b, c = triangles.astype(float).reshape(-1, 3, 3).swapaxes(0, 1)
    return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2)


def test_a_facet_without_outline_is_a_disc_of_its_area_in_its_plane(faceted: Scene) -> None:
    drawn = find(faceted)
    for role in ("parent", "child"):
        assert area_of(drawn.triangles[role]) == pytest.approx(AREA, rel=0.01)
        np.testing.assert_allclose((drawn.strokes[role] - CENTROID) @ NORMAL, 0, atol=1e-6)
        np.testing.assert_allclose(drawn.strokes[role].mean(axis=0), CENTROID, atol=1e-6)


def test_facets_go_with_their_elements(faceted: Scene) -> None:
    """Held against the core's kinematics: the child's facet turns, the parent's stays with the parent."""
    X_WN = np.eye(4)
    X_WN[:3, 3] = (0.3, -0.2, 0.1)
    pose = faceted.write_pose({"V4": np.array([0.2, -0.1, 0.3]), "V6": np.array([0.1, 0.0, 0.0])}, X_WN)
    motions = faceted.part("core_calcs.skeleton.kinematics").joint_motions(faceted.document.skeleton, pose)
    refresh(faceted)
    drawn = find(faceted)
    for role, element in (("parent", "V5"), ("child", "V4")):
        X = motions[faceted.document.skeleton.index(element)]
        wanted = X[:3, :3] @ CENTROID + X[:3, 3]
        np.testing.assert_allclose(drawn.strokes[role].mean(axis=0), wanted, atol=2e-6)
        np.testing.assert_allclose((drawn.strokes[role] - wanted) @ (X[:3, :3] @ NORMAL), 0, atol=2e-6)


def test_what_was_found_is_kept_until_pose_or_document_change(faceted: Scene) -> None:
    first = find(faceted)
    assert find(faceted) is first
    faceted.write_pose({"V4": np.array([0.2, 0.0, 0.0])})
    turned = find(faceted)
    assert turned is not first
    assert find(faceted) is turned
    write_joint(faceted, "V4", facets=(), confidence="none")
    assert not len(find(faceted).strokes["child"])


def test_facets_of_the_joints_selected_or_of_none(faceted: Scene) -> None:
    overlays = faceted.settings.overlays
    overlays.facets = "SELECTED"
    assert find(faceted) is None
    take_bone(faceted, "V4")
    assert len(find(faceted).triangles["child"])
    take_bone(faceted, "V6")
    assert not len(find(faceted).triangles["child"])
    overlays.facets = "NONE"
    assert find(faceted) is None
    bpy.ops.object.mode_set(mode="OBJECT")
    overlays.facets = "SELECTED"
    assert bpy.ops.counterpoise.select_element(element="V4") == {"FINISHED"}
    assert len(find(faceted).triangles["child"])


def corners(shape) -> np.ndarray:
    return shape.points[shape.triangles]


def test_of_a_skeleton_that_is_hidden_nothing_is_drawn(faceted: Scene) -> None:
    faceted.rig.hide_set(True)
    assert find(faceted) is not None, "its elements are in sight"
    layer = bpy.context.view_layer.layer_collection.children[faceted.rig.users_collection[0].name]
    layer.exclude = True
    assert find(faceted) is None
    layer.exclude = False
    layer.hide_viewport = True
    assert find(faceted) is None


def test_how_sure_a_facet_is_shows_without_colour(faceted: Scene) -> None:
    shapes, joints = faceted.part("bridge.facet_shapes"), faceted.part("core_calcs.skeleton.joint")
    joint = faceted.document.skeleton.joint_of("V4")
    facet = joint.facets[0]
    found = shapes.shape_facet(joint, facet)
    marked = shapes.shape_facet(replace(joint, marks=(joints.FacetMark("V5", "0-3"),)), facet)
    unsure = shapes.shape_facet(joint, replace(facet, confidence="ambiguous"))
    by_hand = shapes.shape_facet(replace(joint, kind="by hand", confidence="by hand"), facet)
    moved = shapes.shape_facet(replace(joint, confidence="by hand"), facet)
    assert area_of(corners(marked)) == area_of(corners(found)) == area_of(corners(moved)) > 0
    assert len(marked.strokes) == 2 * len(found.strokes)
    assert not len(unsure.triangles)
    assert not len(by_hand.triangles)
    assert len(by_hand.strokes) == len(found.strokes)
    radius = np.sqrt(AREA / np.pi)
    strokes = unsure.points[unsure.strokes]
    starts, ends = strokes[::2], strokes[1::2]
    lengths = np.linalg.norm(ends - starts, axis=1)
    assert (lengths > radius).sum() >= 4, "hatches"
    assert (lengths < radius / 2).sum() >= 8, "dashes"
    assert np.linalg.norm(strokes - CENTROID, axis=1).max() <= radius * 1.0001


def test_an_outline_is_drawn_where_there_is_one(faceted: Scene) -> None:
    """One with a bay: only what lies inside is filled and hatched."""
    shapes = faceted.part("bridge.facet_shapes")
    outline = np.array([(0, 0, 0), (4, 0, 0), (4, 3, 0), (3, 3, 0), (3, 1, 0), (1, 1, 0), (1, 3, 0), (0, 3, 0)], float)
    facet = SimpleNamespace(
        element="V5",
        confidence="found",
        outline_m=outline,
        centroid_m=outline.mean(axis=0),
        normal=np.array([0.0, 0.0, 1.0]),
        area_m2=8.0,
    )
    joint = faceted.document.skeleton.joint_of("V4")
    assert area_of(corners(shapes.shape_facet(joint, facet))) == pytest.approx(8.0)
    facet.confidence = "ambiguous"
    hatched = shapes.shape_facet(joint, facet)
    strokes = hatched.points[hatched.strokes]
    middles = (strokes[::2] + strokes[1::2]) / 2
    assert not ((middles[:, 0] > 1.01) & (middles[:, 0] < 2.99) & (middles[:, 1] > 1.01)).any()


def stops_of(scene: Scene) -> tuple:
    refresh(scene)
    return scene.part("bridge.marks").find_stops(bpy.context)


def test_where_the_active_bones_joint_stops(animal_scene: Scene) -> None:
    joints = animal_scene.part("core_calcs.skeleton.joint")
    limit = joints.AxisLimit(joints.Stop(-0.5, "by hand", None), joints.Stop(0.4, "bone contact", STOP))
    write_joint(animal_scene, "V4", limits=(limit,) * 3)
    take_bone(animal_scene, "V4")
    animal_scene.write_pose({})
    assert stops_of(animal_scene) == ()
    X_WN = np.eye(4)
    X_WN[:3, 3] = (0.1, 0.2, -0.05)
    pose = animal_scene.write_pose({"V4": np.array([0.4, 0.0, -0.495])}, X_WN)
    flexion, axial = stops_of(animal_scene)
    assert flexion.text == "flexion stops at 22.9°: bone contact"
    assert (flexion.state, flexion.ringed) == ("close", True)
    assert axial.text == "axial stops at -28.6°: set by hand"
    assert not axial.ringed
    motions = animal_scene.part("core_calcs.skeleton.kinematics").joint_motions(animal_scene.document.skeleton, pose)
    X = motions[animal_scene.document.skeleton.index("V5")]
    np.testing.assert_allclose(flexion.place, X[:3, :3] @ STOP + X[:3, 3], atol=2e-6)
    animal_scene.settings.hold_limits = False
    animal_scene.write_pose({"V4": np.array([0.45, 0.0, 0.0])})
    (beyond,) = stops_of(animal_scene)
    assert beyond.text == "flexion 2.9° beyond its stop at 22.9°: bone contact"
    assert beyond.state == "fails"
    take_bone(animal_scene, "V6")
    assert stops_of(animal_scene) == ()
    take_bone(animal_scene, "V4")
    animal_scene.settings.overlays.stops = False
    assert stops_of(animal_scene) == ()


def test_the_place_of_a_stop_goes_with_the_parent(animal_scene: Scene) -> None:
    joints = animal_scene.part("core_calcs.skeleton.joint")
    limit = joints.AxisLimit(joints.Stop(-0.5, "gap", None), joints.Stop(0.4, "bone contact", STOP))
    write_joint(animal_scene, "V3", limits=(limit,) * 3)
    take_bone(animal_scene, "V3")
    turns = {"V4": np.array([0.3, 0.1, 0.0]), "V3": np.array([0.4, 0.0, 0.0])}
    pose = animal_scene.write_pose(turns)
    motions = animal_scene.part("core_calcs.skeleton.kinematics").joint_motions(animal_scene.document.skeleton, pose)
    X = motions[animal_scene.document.skeleton.index("V4")]
    (stop,) = stops_of(animal_scene)
    np.testing.assert_allclose(stop.place, X[:3, :3] @ STOP + X[:3, 3], atol=2e-6)


def test_the_joint_in_hand_in_words(faceted: Scene) -> None:
    shown = faceted.part("bridge.joint_in_hand")
    refresh(faceted)
    assert shown.show_in_hand(bpy.context) is None
    take_bone(faceted, "V4")
    faceted.write_pose({"V4": np.array([0.4, -0.1, 0.0])})
    refresh(faceted)
    joint = shown.show_in_hand(bpy.context)
    assert (joint.child, joint.parent, joint.confidence) == ("V4", "V5", "found")
    assert [axis.state for axis in joint.axes] == ["close", "holds", "holds"]
    assert joint.axes[0].angle == "22.9°, at its stop"
    assert joint.axes[1].angle == "-5.7°"
    assert joint.facets == "2 facets"
    assert joint.axes[1].ends == (("-28.6°", "set by hand"), ("22.9°", "set by hand"))
    bpy.ops.object.mode_set(mode="OBJECT")
    assert bpy.ops.counterpoise.select_element(element="V1") == {"FINISHED"}
    joint = shown.show_in_hand(bpy.context)
    assert (joint.child, joint.kind, joint.axes) == ("V1", "fixed", ())


def test_nothing_is_drawn_where_bones_are_gone(faceted: Scene) -> None:
    assert find(faceted) is not None
    bpy.context.view_layer.objects.active = faceted.rig
    bpy.ops.object.mode_set(mode="EDIT")
    faceted.rig.data.edit_bones.remove(faceted.rig.data.edit_bones["V4"])
    bpy.ops.object.mode_set(mode="OBJECT")
    assert find(faceted) is None


def test_without_a_window_no_drawing_is_registered(animal_scene: Scene) -> None:
    assert bpy.app.background
    assert animal_scene.part("draw.view")._handles == []


@pytest.mark.parametrize("x", [50.0, 400.0, 780.0])
@pytest.mark.parametrize("y", [5.0, 300.0, 598.0])
def test_labels_stay_in_the_view_and_apart(animal_scene: Scene, x: float, y: float) -> None:
    labels = animal_scene.part("draw.labels")
    anchors = [(x, y), (x + 8, y - 6), (x - 5, y + 12)]
    free = (40.0, 0.0, 800.0, 600.0)
    boxes = labels.place_labels(anchors, [(260.0, 22.0), (180.0, 22.0), (230.0, 22.0)], free, 20.0)
    for i, box in enumerate(boxes):
        assert free[0] <= box[0]
        assert box[2] <= free[2]
        assert free[1] <= box[1]
        assert box[3] <= free[3]
        for other in boxes[i + 1 :]:
            assert box[1] >= other[3] or other[1] >= box[3]
        for ax, ay in anchors:
            assert not (box[0] < ax < box[2] and box[1] < ay < box[3])
