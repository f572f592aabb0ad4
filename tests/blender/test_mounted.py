"""A pose as mounted is shown, not taken up: where elements stood, by how much; and nothing loses it."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from scenes import Scene
from test_corrections import ANGLES, put_right, shown_points
from verdicts import keep_verdicts

op = bpy.ops.counterpoise
MOUNTED = "as mounted before"


@pytest.fixture
def righted(crooked: Scene) -> Scene:
    """L2 has been turned; stood: where it was seen before."""
    crooked.stood = shown_points(crooked, "L2")
    keep_verdicts(crooked, ("turned", "wrong", ("L2",)))
    put_right()
    return crooked


def select(scene: Scene, name: str) -> None:
    scene.settings.pose_index = scene.settings.poses.find(name)


def figures_of(scene: Scene, name: str):
    figures = scene.part("bridge.figures")
    figures.refresh_figures(bpy.context)
    return next(own for own in figures.saved_figures() if own.pose == name)


def test_it_is_shown_and_turns_no_joint(righted: Scene) -> None:
    righted.write_pose(ANGLES)
    before = [tuple(map(tuple, bone.matrix_basis)) for bone in righted.rig.pose.bones]
    assert op.restore_pose(name=MOUNTED) == {"FINISHED"}
    assert [tuple(map(tuple, bone.matrix_basis)) for bone in righted.rig.pose.bones] == before
    assert righted.settings.overlays.mounted
    assert righted.settings.poses[righted.settings.pose_index].name == MOUNTED


def test_the_ghost_stands_where_the_element_stood(righted: Scene) -> None:
    find = righted.part("bridge.mounted").find_mounted
    assert find(bpy.context) is None  # off
    righted.settings.overlays.mounted = True
    ghosts = find(bpy.context)
    assert find(bpy.context) is ghosts  # kept while nothing changes
    corners = np.unique(ghosts.triangles.round(5), axis=0)
    wanted = np.unique(righted.stood.round(5), axis=0)
    np.testing.assert_allclose(corners, wanted, atol=2e-5)
    out = np.linalg.norm(ghosts.rims - ghosts.triangles, axis=1)
    assert (out > 1e-4).all()
    assert (out < 5e-3).all()
    centre = ghosts.triangles.mean(axis=0)
    assert (np.einsum("ij,ij->i", ghosts.rims - ghosts.triangles, ghosts.triangles - centre) > 0).all()
    assert (ghosts.light >= 0).all()
    assert (ghosts.light <= 1).all()
    righted.rig.hide_set(True)
    for proxy in righted.rig.children:
        proxy.hide_set(True)
    assert find(bpy.context) is None


def test_the_ghost_goes_with_pose_and_scene(righted: Scene) -> None:
    """Another unit of the scene, another document: made anew; the same places in metres."""
    righted.settings.overlays.mounted = True
    find = righted.part("bridge.mounted").find_mounted
    before = find(bpy.context)
    bpy.context.scene.unit_settings.scale_length = 0.01
    assert op.build_rig() == {"FINISHED"}
    after = find(bpy.context)
    np.testing.assert_allclose(after.triangles, 100 * before.triangles, atol=2e-3)
    assert op.put_back(reason="tried") == {"FINISHED"}
    assert find(bpy.context) is None  # it stands there again


def test_figures_tell_what_stood_elsewhere_and_by_how_much(righted: Scene) -> None:
    shown = figures_of(righted, MOUNTED)
    assert shown.moved == (("L2", "0 mm, 180.0°"),)
    assert figures_of(righted, "as scanned").moved is None
    document, part = righted.document, righted.part
    pose = next(pose for pose in document.poses if pose.name == MOUNTED)
    assess = part("core_calcs.studies.assess").assess
    found = assess(document.skeleton, pose, document.build, document.site)
    assert shown.centre == part("bridge.figure_text").word_figures(found).centre
    assert shown.outside == "2 of 3"  # half a turn off in its own joint, and in that of what hangs on it


def test_what_would_lose_it_is_refused(righted: Scene) -> None:
    text = righted.settings.document.as_string()
    with pytest.raises(RuntimeError, match="where elements were mounted"):
        op.save_pose("EXEC_DEFAULT", True, name=MOUNTED, overwrite=True)
    with pytest.raises(RuntimeError, match="put all corrections back first"):
        op.delete_pose("EXEC_DEFAULT", True, name=MOUNTED)
    assert righted.settings.document.as_string() == text
    assert op.duplicate_pose(name=MOUNTED, new_name="before") == {"FINISHED"}
    assert op.delete_pose(name=MOUNTED) == {"FINISHED"}
    assert figures_of(righted, "before").moved == (("L2", "0 mm, 180.0°"),)
    assert op.put_back(reason="tried") == {"FINISHED"}
    assert op.delete_pose(name="before") == {"FINISHED"}


def test_the_other_operators_leave_it_as_it_is(righted: Scene) -> None:
    def places():
        return next(pose.mounted for pose in righted.document.poses if pose.mounted)

    before = places()
    for done in (
        lambda: op.rename_pose(name=MOUNTED, new_name="mount"),
        lambda: op.note_pose(name="mount", note="of old"),
        lambda: op.move_pose(name="mount", places=-1),
        lambda: op.reset_pose(),
        lambda: op.save_pose(name="stands"),
        lambda: op.set_joint(child="L3", flexion=(-0.2, 0.2), reason="made up"),
        lambda: op.build_rig(),
        lambda: op.check_clearance(),
    ):
        assert done() == {"FINISHED"}
    after = places()
    assert before.keys() == after.keys()
    for name, X in before.items():
        np.testing.assert_array_equal(after[name], X)
    select(righted, "mount")
    assert figures_of(righted, "mount").note == "of old"


def test_clearance_of_it_is_not_that_of_neutral(righted: Scene) -> None:
    part = righted.part
    assert op.check_clearance() == {"FINISHED"}
    kept = part("bridge.kept_document").keep_document(bpy.context.scene)
    known = part("bridge.clearance").find_known(kept)
    pose = next(pose for pose in kept.document.poses if pose.mounted)
    neutral = part("core_calcs.skeleton.pose").Pose("neutral", {}, pose.X_WN)
    study = part("core_calcs.studies.clearance")
    wanted = study.find_clearance(known.prepared, pose, kept.document.site)
    assert known.find(kept, pose).tried == wanted.tried
    assert known.find(kept, pose) is not known.find(kept, neutral)
