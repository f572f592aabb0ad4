"""Saved poses as ghosts: where Blender itself puts the animal in each, in colours of their own, named at the head."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from scenes import Scene

op = bpy.ops.counterpoise
ANGLES = {"low": (0.3, 0.1), "high": (-0.3, 0.0)}


@pytest.fixture
def posed(animal_scene: Scene) -> Scene:
    """Two poses that differ in tail and neck; the rig is brought back to neutral."""
    for name, (flexion, lateral) in ANGLES.items():
        X_WN = np.eye(4)
        X_WN[:3, 3] = flexion, 0.2, 0.1
        animal_scene.write_pose({name: np.array([flexion, lateral, 0.0]) for name in ("V3", "V9")}, X_WN)
        assert op.save_pose(name=name) == {"FINISHED"}
    op.reset_pose()
    return animal_scene


def show(scene: Scene, *names: str):
    for row in scene.settings.poses:
        row.ghost = row.name in names
    make = scene.part("bridge.ghosts").make_ghosts
    while make(bpy.context.scene, 1)[1]:
        pass
    return scene.part("bridge.pose_pictures").find_ghosts(bpy.context)


def where_drawn(scene: Scene) -> np.ndarray:
    """(n, 3) every vertex of every proxy, as Blender evaluates it, in the scene."""
    bpy.context.view_layer.update()
    depsgraph = bpy.context.evaluated_depsgraph_get()
    points = []
    for child in scene.rig.children:
        own = np.array([vertex.co for vertex in child.data.vertices])
        X = np.array(child.evaluated_get(depsgraph).matrix_world)
        points.append(own @ X[:3, :3].T + X[:3, 3])
    return np.concatenate(points)


def test_none_is_shown_unless_it_is_switched_on(posed: Scene) -> None:
    assert posed.part("bridge.pose_pictures").find_ghosts(bpy.context) == ()
    assert not any(row.ghost for row in posed.settings.poses)


@pytest.mark.parametrize("metres", [1.0, 0.1])
def test_a_ghost_stands_where_the_pose_restored_stands(posed: Scene, metres: float) -> None:
    bpy.context.scene.unit_settings.scale_length = metres
    op.build_rig()
    (ghost,) = show(posed, "high")
    op.restore_pose(name="high")
    drawn = np.unique(where_drawn(posed).round(3), axis=0)
    far = np.abs(np.unique(ghost.triangles.round(5), axis=0)[:, None] - drawn).max(axis=2).min(axis=1)
    assert far.max() < 2e-3 / metres
    assert ghost.name == "high"
    lowest, highest = drawn.min(axis=0), drawn.max(axis=0)
    assert (lowest - 1e-2 <= ghost.place).all()
    assert (ghost.place <= highest + 1e-2).all()
    out = np.linalg.norm(ghost.rims - ghost.triangles, axis=1)
    assert (out > 0).all()
    assert out.max() < 0.02 / metres


def test_each_has_a_colour_of_its_own_and_is_kept_while_nothing_changes(posed: Scene) -> None:
    ghosts = show(posed, "low", "high")
    assert [ghost.name for ghost in ghosts] == ["low", "high"]
    assert ghosts[0].colour != ghosts[1].colour
    again = show(posed, "low", "high")
    assert again[0] is ghosts[0]
    assert again[1] is ghosts[1]
    posed.write_pose({"V5": np.array([0.1, 0.0, 0.0])})
    assert show(posed, "low", "high")[0] is ghosts[0], "the live pose is none of its business"
    assert [ghost.name for ghost in show(posed, "high")] == ["high"]
    assert show(posed) == ()


def test_it_follows_its_pose_through_changes_of_the_document(posed: Scene) -> None:
    (before,) = show(posed, "low")
    op.rename_pose(name="low", new_name="lower")
    assert [row.name for row in posed.settings.poses if row.ghost] == ["lower"], "the check goes with the pose"
    (renamed,) = show(posed, "lower")
    assert renamed.name == "lower"
    np.testing.assert_array_equal(renamed.triangles, before.triangles)
    posed.write_pose({"V3": np.array([-0.2, 0.0, 0.0])})
    op.save_pose(name="lower", overwrite=True)
    (changed,) = show(posed, "lower")
    assert np.abs(changed.triangles - before.triangles).max() > 0.01
    op.delete_pose(name="lower")
    assert show(posed, "lower") == ()


def test_seven_are_too_many_and_a_hidden_rig_has_none(posed: Scene) -> None:
    for _ in range(5):
        op.duplicate_pose(name="low")
    names = [row.name for row in posed.settings.poses]
    assert len(names) == 8
    assert [ghost.name for ghost in show(posed, *names)] == names[:6]
    assert posed.part("bridge.ghosts").count_ghosted(bpy.context.scene) == 8
    for thing in (posed.rig, *posed.rig.children):
        thing.hide_set(True)
    assert posed.part("bridge.pose_pictures").find_ghosts(bpy.context) == ()
