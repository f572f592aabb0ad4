"""How far inside their range joints stand, as the view is given it: lines of bones, and words for what is outside."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from scenes import Scene, take_bone


def find(scene: Scene):
    bpy.context.view_layer.update()
    scene.part("bridge.figures").refresh_figures(bpy.context)
    return scene.part("bridge.ranges").find_ranges(bpy.context)


def turn(scene: Scene, angles: dict[str, tuple[float, float, float]]):
    scene.write_pose({child: np.array(own) for child, own in angles.items()})
    return find(scene)


@pytest.fixture
def posed(animal_scene: Scene) -> Scene:
    animal_scene.settings.hold_limits = False
    take_bone(animal_scene, "V6")
    return animal_scene


def test_each_joint_that_turns_has_its_bone_and_its_figure(posed: Scene) -> None:
    """Held against the document: the limits are set by hand, so that the nearest of the six decides."""
    moving = [joint for joint in posed.document.skeleton.joints if joint.moves]
    angles = {joint.child: (0.05, -0.02, 0.01) for joint in moving}
    found = turn(posed, angles)
    assert sorted(found.children) == sorted(joint.child for joint in moving)
    for joint, inside in ((joint, found.inside_deg[found.children.index(joint.child)]) for joint in moving):
        assert joint.envelope is None
        room = [
            min(angle - limit.low.angle_rad, limit.high.angle_rad - angle)
            for angle, limit in zip(angles[joint.child], joint.limits, strict=True)
            if limit.low.angle_rad < limit.high.angle_rad
        ]
        assert inside == pytest.approx(np.degrees(min(room)), abs=1e-3)


def test_lines_begin_at_the_joints_and_go_with_the_pose(posed: Scene) -> None:
    pose = posed.write_pose({"V4": np.array([0.2, -0.1, 0.1])})
    found = find(posed)
    skeleton = posed.document.skeleton
    motions = posed.part("core_calcs.skeleton.kinematics").joint_motions(skeleton, pose)
    for child, (start, end) in zip(found.children, found.ends, strict=True):
        X = motions[skeleton.index(child)]
        centre = X @ skeleton.joint_of(child).X_WJ
        np.testing.assert_allclose(start, centre[:3, 3], atol=5e-6)
        along = (end - start) / np.linalg.norm(end - start)
        np.testing.assert_allclose(along, centre[:3, 1], atol=1e-4)


def test_what_is_outside_is_told_in_words_the_worst_first(posed: Scene) -> None:
    marks = posed.part("bridge.marks")
    assert not turn(posed, {}).outside.any()
    assert marks.find_outside(bpy.context) == ()
    high = {child: posed.bounds_of(child)[0, 1] for child in ("V4", "V3")}
    found = turn(posed, {"V4": (high["V4"] + 0.02, 0, 0), "V3": (high["V3"] + 0.05, 0, 0)})
    assert [child for child, out in zip(found.children, found.outside, strict=True) if out] == ["V4", "V3"]
    first, second = marks.find_outside(bpy.context)
    assert (first.text, second.text) == ("V3: 2.9° beyond", "V4: 1.1° beyond")
    np.testing.assert_allclose(first.place, found.ends[found.children.index("V3"), 0], atol=1e-6)
    take_bone(posed, "V3")  # in hand: its stops are told
    assert [mark.text for mark in marks.find_outside(bpy.context)] == ["V4: 1.1° beyond"]
    assert marks.find_marks(bpy.context)[0].text.startswith("flexion 2.9° beyond its stop")


def test_nothing_is_written_and_nothing_made_anew_while_nothing_changes(posed: Scene) -> None:
    first = turn(posed, {"V4": (0.1, 0, 0)})
    updates = []
    note = lambda _scene, _depsgraph: updates.append(1)  # noqa: E731
    bpy.context.view_layer.update()
    bpy.app.handlers.depsgraph_update_post.append(note)
    try:
        assert find(posed) is first
        assert posed.part("bridge.ranges").find_ranges(bpy.context) is first
        bpy.context.view_layer.update()
    finally:
        bpy.app.handlers.depsgraph_update_post.remove(note)
    assert not updates
    assert turn(posed, {"V4": (0.12, 0, 0)}) is not first


def test_only_bones_in_sight_of_a_rig_that_is_posed(posed: Scene) -> None:
    whole = turn(posed, {})
    assert [child for child, chosen in zip(whole.children, whole.chosen, strict=True) if chosen] == ["V6"]
    bone = posed.rig.pose.bones["V4"]
    (bone if hasattr(bone, "hide") else bone.bone).hide = True
    assert set(whole.children) - set(find(posed).children) == {"V4"}
    (bone if hasattr(bone, "hide") else bone.bone).hide = False
    for group in posed.rig.data.collections_all:
        group.is_visible = False
    assert find(posed) is None
    for group in posed.rig.data.collections_all:
        group.is_visible = True
    posed.settings.overlays.ranges = False
    assert find(posed) is None
    posed.settings.overlays.ranges = True
    bpy.ops.object.mode_set(mode="OBJECT")
    assert find(posed) is None


def test_colours_change_with_every_degree_and_say_what_is_not_known(posed: Scene) -> None:
    mix = posed.part("draw.ranges").mix_colours
    colours = posed.part("properties.palette")
    inside = np.array([0.0, 0.5, 1.0, 2.0, 3.0, 6.0, 10.0, 60.0, -2.0, np.nan])
    mixed = mix(inside, inside < 0)
    assert len({tuple(colour) for colour in mixed[:7].round(3).tolist()}) == 7
    np.testing.assert_allclose(mixed[6], mixed[7])
    np.testing.assert_allclose(mixed[8, :3], colours.STATE_COLOURS["fails"])
    np.testing.assert_allclose(mixed[9, :3], colours.NOT_KNOWN_COLOUR)


@pytest.mark.parametrize(
    ("degrees", "words"),
    [(4.56, "4.6° inside"), (0.01, "at its boundary"), (-0.001, "at its boundary"), (-0.3, "0.3° beyond")],
)
def test_how_far_in_words(animal_scene: Scene, degrees: float, words: str) -> None:
    assert animal_scene.part("bridge.joint_text").word_inside(np.radians(degrees)) == words
