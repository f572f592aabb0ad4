"""Random steps with the list of saved poses: checks, its order, its pictures, a movement made of the poses checked."""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING

import bpy
from walk_model import done, refused

if TYPE_CHECKING:
    from random_steps import Walk

SORTS = ["OWN", "NAME", "STATE", "MARGIN", "TIP", "MASS"]

op = bpy.ops.counterpoise


def tick(walk: Walk) -> bool:
    """Check a pose to be compared, or as a ghost, or uncheck it: the row's own property, as a click does it."""
    rows = walk.scene.settings.poses
    if not len(rows):
        return False
    row, check = rows[int(walk.rng.integers(len(rows)))], walk.pick(["compared", "compared", "ghost"])
    setattr(row, check, not getattr(row, check))
    bpy.ops.ed.undo_push(message="Compare")
    return True


def sort(walk: Walk) -> bool:
    """How the list is shown; the document keeps its own order."""
    shown = walk.scene.settings.pose_list
    shown.sort, shown.reverse = walk.model.shown = walk.pick(SORTS), bool(walk.rng.integers(2))
    bpy.ops.ed.undo_push(message="Sort")
    return True


def keep_order(walk: Walk) -> bool:
    own = walk.model.own
    if walk.model.shown == ("OWN", False):
        return False
    walk.scene.part("bridge.figures").refresh_figures(bpy.context)
    rows = walk.scene.part("bridge.pose_order").order_rows(bpy.context.scene)
    own.poses = [own.poses[row] for row in rows]
    walk.model.shown = ("OWN", False)
    return done(op.keep_pose_order)


def draw_pictures(walk: Walk) -> bool:
    """Pictures made now are those that would be made from nothing, whatever has been drawn before."""
    thumbnails = walk.scene.part("bridge.thumbnails")
    walk.scene.part("bridge.figures").refresh_figures(bpy.context)

    def make() -> list[str]:
        thumbnails.make_thumbnails(bpy.context.scene, 100)
        return [thumbnails.name_thumbnail(bpy.context.scene, pose.name) for pose in walk.model.own.poses]

    found = make()
    assert all(found)
    thumbnails.drop_thumbnails()
    assert make() == found
    return False


def key_poses(walk: Walk) -> bool:
    """The poses checked as a movement; or it is taken away again, and the rig stands as before."""
    own = walk.model.own
    if own.rig is None:
        return False
    if own.keyed is not None:
        own.rig, own.keyed = own.keyed, None
        done(op.remove_pose_keyframes)
        if walk.scene.rig.parent is not None:  # which may have been moved meanwhile
            own.rig.X_WN = walk.scene.read_pose().X_WN
        return True
    if len(own.poses) < 2:
        return False
    for row in walk.rng.choice(len(own.poses), 2, replace=False).tolist():
        walk.scene.settings.poses[row].compared = True
    walk.scene.part("bridge.figures").refresh_figures(bpy.context)
    rows = walk.scene.part("bridge.pose_order").order_rows(bpy.context.scene)
    checked = [own.poses[row] for row in rows if walk.scene.settings.poses[row].compared]
    start, between = int(walk.rng.integers(1, 20)), int(walk.rng.integers(1, 30))
    if any(pose.mounted for pose in checked):
        refused(op.poses_to_keyframes, "where elements were mounted", start=start, between=between)
        bpy.ops.ed.undo_push(message="Compare")
        return True
    own.keyed, own.rig = own.rig, deepcopy(checked[0].motion)
    return done(op.poses_to_keyframes, start=start, between=between, ease=walk.pick(["smooth", "even"]))
