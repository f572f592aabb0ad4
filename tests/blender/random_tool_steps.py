"""Random steps by the tools that pose: the document stays as it is, what a tool refuses leaves everything as it was."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
import numpy as np
from walk_model import assert_same, done, record

if TYPE_CHECKING:
    from random_steps import Walk

op = bpy.ops.counterpoise


def turn_joint(walk: Walk) -> bool:
    """By the add-on's own tool, which holds at the joint's range."""
    own = walk.model.own
    free = [child for child, (moves, _) in own.joints.items() if moves]
    if own.rig is None or not free:
        return False
    child, flexion = walk.pick(free), walk.pick_angle()
    done(op.turn_joint, element=child, flexion=flexion)
    own.rig.angles = {**own.rig.angles, child: walk.scene.read_pose().angles_rad.get(child, np.zeros(3))}
    assert abs(own.rig.angles[child][0] - flexion) < 2e-6
    return True


def use_tool(walk: Walk) -> bool:
    """One of the tools that pose many joints: where they end up is the core's own, the document stays as it is.

    What a tool refuses leaves everything as it was.
    """
    own, rng = walk.model.own, walk.rng
    if own.rig is None:
        return False
    posing = walk.scene.part("bridge.kept_document").keep_document(bpy.context.scene).posing
    chain = walk.pick([chain.name for chain in posing.chains])
    tools: dict[str, tuple[Any, dict[str, object]]] = {
        "mirror": (op.mirror_pose, {}),
        "flip": (op.flip_side, {"direction": walk.pick(["LEFT_TO_RIGHT", "RIGHT_TO_LEFT"])}),
        "neutral": (op.neutral_chain, {"chain": chain, "share": 0.5}),
        "nearest": (op.nearest_allowed, {"hold_feet": bool(rng.integers(2))}),
        "blend": (op.blend_pose, {"name": walk.pick_pose() if own.poses else "", "share": 0.25}),
    }
    if own.is_animal:  # the column's joints are to keep to angles that every setting of its search allows
        held, tip = bool(rng.integers(2)), walk.pick(["V9", "V2", "leg V2 left"])
        tools |= {
            "bend": (op.bend_chain, {"chain": chain, "flexion": float(rng.uniform(-0.3, 0.3)), "fall_off": 0.5}),
            "reach": (op.reach, {"element": tip, "target": tuple(rng.uniform(-0.4, 0.4, 3)), "hold_feet": held}),
            "look": (op.look_at, {"target": tuple(rng.uniform(-2, 2, 3))}),
            "body": (op.move_body, {"offset": tuple(rng.uniform(-0.02, 0.02, 3)), "turn": (0, 0, 0.05 * held)}),
        }
    operator, given = tools[walk.pick(list(tools))]
    before, refusal = record(), _try_tool(operator, given)
    if refusal:
        assert "Traceback" not in refusal
        assert_same(record(), before)
        return False
    assert record()["texts"] == before["texts"]
    pose = walk.scene.read_pose()
    own.rig.angles, own.rig.X_WN = dict(pose.angles_rad), pose.X_WN
    return True


def _try_tool(operator: Any, given: dict[str, object]) -> str:
    """What the tool says against it; empty where it was done."""
    try:
        done(operator, **given)
    except RuntimeError as error:
        return str(error)
    return ""
