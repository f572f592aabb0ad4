"""Range arcs of the joint in hand: for each axis from one limit to the other, and where it stands now.

The axes are those of the joint's angles: flexion about an axis of the parent, axial turn about the child's long axis,
lateral bending about the one between. So each arc lies where its own angle is seen, whatever the other two are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import bpy
import numpy as np

from ..core_calcs.skeleton.joint import Joint
from ..core_calcs.studies.stops import AxisUse, use_axes
from ..translations.phrases import say, tell
from .cursor_note import find_note
from .figures import drawn_joints
from .frames import Array
from .joint_text import word_angle
from .posed_facets import move_points
from .rig import ELEMENT, SCALE


@dataclass(frozen=True, eq=False)
class DrawnArc:
    """The range about one axis. The direction at an angle is cos · zero + sin · across, unit vectors (3,) of the scene.

    axis : flexion, lateral or axial
    centre : (3,) of the joint, in the scene
    along : (3,) which way the arc stands off from the centre: nought but for the axial turn, which is drawn about the
        child's axis
    low_rad, high_rad, angle_rad : both ends and the present angle
    inside_deg : from the nearer end, below zero beyond it
    outside : whether it is beyond an end
    text : axis, angle and range in words; empty where they stand elsewhere
    """

    axis: str
    centre: Array
    along: Array
    zero: Array
    across: Array
    low_rad: float
    high_rad: float
    angle_rad: float
    inside_deg: float
    outside: bool
    text: str


def find_arcs(context: bpy.types.Context) -> tuple[DrawnArc, ...]:
    """The arcs of the joint of the active bone, while that is selected; of axes that are held there is none.

    While a posing tool says the angles beside the mouse, the arcs have no words.
    """
    scene = context.scene
    bone = context.active_pose_bone if scene.counterpoise.overlays.arcs else None
    rig = scene.counterpoise.rig
    if bone is None or bone.id_data != rig or bone not in (context.selected_pose_bones or ()):
        return ()
    kept, uses = drawn_joints(scene)
    use = uses.get(bone.bone.get(ELEMENT, ""))
    if kept is None or use is None:
        return ()
    joint = kept.document.skeleton.joint_of(use.child)
    parent = move_points(kept, rig, joint.parent)
    if parent is None:
        return ()
    centre = parent @ np.append(joint.X_WJ[:3, 3] / rig.data[SCALE], 1.0)
    axes = use_axes(joint, use.angles_rad)
    return place_arcs(joint, axes, parent[:3, :3], centre[:3], find_note(context) is None)


def place_arcs(
    joint: Joint, axes: tuple[AxisUse, ...], turned: Array, centre: Array, told: bool
) -> tuple[DrawnArc, ...]:
    """turned : (3, 3) of the parent from the neutral articulation; centre : (3,) in the scene; told : with words."""
    x, y, z = (turned @ joint.X_WJ[:3, :3]).T
    flexion, lateral, axial = joint.senses
    bent, aside = (sense * own.angle_rad for sense, own in zip(joint.senses[:2], axes[:2], strict=True))
    forward = math.cos(bent) * y + math.sin(bent) * z  # the child's axis, bent but not yet aside
    floating = math.cos(bent) * z - math.sin(bent) * y
    axis = math.cos(aside) * forward - math.sin(aside) * x
    sideways = math.cos(aside) * x + math.sin(aside) * forward
    none = np.zeros(3)
    planes = (
        (none, y, flexion * z),
        (none, forward, -lateral * x),
        (axis, floating, axial * sideways),
    )
    return tuple(
        _make_arc(own, centre, plane, told)
        for own, plane in zip(axes, planes, strict=True)
        if own.limit is not None and own.limit.low.angle_rad < own.limit.high.angle_rad
    )


def _make_arc(own: AxisUse, centre: Array, plane: tuple[Array, Array, Array], told: bool) -> DrawnArc:
    low, high, angle = own.limit.low.angle_rad, own.limit.high.angle_rad, own.angle_rad
    inside = math.degrees(min(angle - low, high - angle))
    words = {"angle": word_angle(angle), "low": word_angle(low), "high": word_angle(high)}
    text = say("{axis} {angle} of {low} to {high}", axis=tell(own.axis), **words) if told else ""
    return DrawnArc(own.axis, centre, *plane, low, high, angle, inside, own.state == "fails", text)
