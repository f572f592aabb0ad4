"""Random steps with the rig and the saved poses, each in Blender and in the model."""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING

import bpy
import numpy as np
from walk_model import Saved, done, refused

if TYPE_CHECKING:
    from random_steps import Walk

MOST_POSES = 6

op = bpy.ops.counterpoise


def save(walk: Walk) -> bool:
    own = walk.model.own
    if own.rig is None or len(own.poses) >= MOST_POSES:
        return False
    name = f"pose {walk.rng.integers(1000)}"
    if name in [pose.name for pose in own.poses]:
        return False
    own.poses.append(Saved(name, deepcopy(own.rig)))
    return done(op.save_pose, name=name)


def save_over(walk: Walk) -> bool:
    own = walk.model.own
    if own.rig is None or not own.poses:
        return False
    name = walk.pick_pose()
    if own.poses[own.find(name)].mounted:
        return refused(op.save_pose, "where elements were mounted", name=name, overwrite=True)
    own.poses[own.find(name)].motion = deepcopy(own.rig)
    return done(op.save_pose, name=name, overwrite=True)


def delete(walk: Walk) -> bool:
    own = walk.model.own
    if not own.poses:
        return False
    name = walk.pick_pose()
    if [pose.name for pose in own.poses if pose.mounted] == [name] and own.corrections:
        return refused(op.delete_pose, "put all corrections back first", name=name)
    del own.poses[own.find(name)]
    return done(op.delete_pose, name=name)


def rename(walk: Walk) -> bool:
    """To a new name, or to one that is taken, which is refused and leaves no step behind."""
    own = walk.model.own
    if not own.poses:
        return False
    name, new_name = walk.pick_pose(), walk.pick([walk.pick_pose(), f"renamed {walk.rng.integers(1000)}"])
    if new_name != name and new_name in [pose.name for pose in own.poses]:
        return refused(op.rename_pose, "a pose of that name", name=name, new_name=new_name)
    own.poses[own.find(name)].name = new_name
    return done(op.rename_pose, name=name, new_name=new_name)


def move(walk: Walk) -> bool:
    own = walk.model.own
    if not own.poses:
        return False
    name, places = walk.pick_pose(), int(walk.rng.integers(-2, 3))
    at = own.find(name)
    pose = own.poses.pop(at)
    own.poses.insert(max(0, at + places), pose)
    return done(op.move_pose, name=name, places=places)


def duplicate(walk: Walk) -> bool:
    own = walk.model.own
    if not own.poses or len(own.poses) >= MOST_POSES:
        return False
    name, new_name = walk.pick_pose(), f"copy {walk.rng.integers(1000)}"
    if new_name in [pose.name for pose in own.poses]:
        return False
    at = own.find(name)
    copy = deepcopy(own.poses[at])
    copy.name = new_name
    own.poses.insert(at + 1, copy)
    return done(op.duplicate_pose, name=name, new_name=new_name)


def note(walk: Walk) -> bool:
    own = walk.model.own
    if not own.poses:
        return False
    name, text = walk.pick_pose(), walk.pick(["", "quiet", "as drawn; ß"])
    own.poses[own.find(name)].note = text
    return done(op.note_pose, name=name, note=text)


def restore(walk: Walk) -> bool:
    own = walk.model.own
    if own.rig is None or not own.poses:
        return False
    name = walk.pick_pose()
    if not own.poses[own.find(name)].mounted:  # such a pose is shown, and turns nothing
        own.rig = deepcopy(own.poses[own.find(name)].motion)
    return done(op.restore_pose, name=name)


def reset(walk: Walk) -> bool:
    if walk.model.own.rig is None:
        return False
    walk.model.own.rig.angles = {}
    return done(op.reset_pose)


def stand(walk: Walk) -> bool:
    """Where it ends up is the core's own; the joints stay as they are and no foot is below the ground."""
    own = walk.model.own
    if own.rig is None or not own.feet:
        return False
    done(op.stand, level=bool(walk.rng.integers(2)))
    own.rig.X_WN = walk.scene.read_pose().X_WN
    return True


def turn(walk: Walk) -> bool:
    """By the bone's own channels, as a user does it."""
    own = walk.model.own
    moving = [child for child, (moves, _) in own.joints.items() if moves]
    if own.rig is None:
        return False
    child, flexion = walk.pick(moving), walk.pick_angle()
    angles = {"flexion": flexion, "lateral": 0.0, "axial": 0.0}
    joint = walk.scene.document.skeleton.joint_of(child)
    signed = np.array(list(angles.values())) * joint.senses
    walk.scene.bone_of(child).rotation_euler = (signed[0], signed[2], signed[1])
    own.rig.angles = {**own.rig.angles, child: np.array(list(angles.values()))}
    bpy.context.view_layer.update()
    bpy.ops.ed.undo_push(message="Turn a bone")
    return True


def let_bear(walk: Walk) -> bool:
    """A foot let off in the live pose, two at most, or made to bear again."""
    own = walk.model.own
    if own.rig is None or not own.feet:
        return False
    name = walk.pick(own.feet)
    bears = name in own.rig.idle
    if not bears and len(own.rig.idle) > 1:
        return False
    others = [foot for foot in own.rig.idle if foot != name]
    own.rig.idle = tuple(sorted(others if bears else [*others, name]))
    return done(op.let_bear, name=name, bears=bears)
