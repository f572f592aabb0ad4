"""The demo that comes with the add-on: its files, which skeleton is it, and its neck in hand, seen whole."""

from __future__ import annotations

from pathlib import Path

import bpy
from mathutils import Vector

from .rig import ELEMENT
from .scene import take_in_hand

DOCUMENT = Path(__file__).resolve().parents[1] / "demo" / "quay_strider.json"
"""Its skeleton document, beside the folder of its scans."""

IN_HAND = "cervical 7"
"""The element whose bone is to be turned first: low in the neck, so that much moves."""

SEEN_FROM = Vector((0.5, 1.0, 0.3))
"""From the animal to the eye: from its left, a little before it and above, so that neck, tail and feet are all seen."""

MARK = "counterpoise_demo"
"""On the demo's text block."""


def is_demo(scene: bpy.types.Scene) -> bool:
    """Whether the scene's active skeleton is the demo."""
    text = scene.counterpoise.document
    return text is not None and bool(text.get(MARK))


def show_demo(context: bpy.types.Context) -> None:
    """The scene's skeleton, just brought in, is the demo: its poses checked, in the view whole, its neck in hand."""
    settings = context.scene.counterpoise
    settings.document[MARK] = True
    for row in settings.poses:
        row.compared = True
    _look_at_selected(context)
    take_in_hand(context, settings.rig, posing=True, element=IN_HAND)
    bpy.ops.pose.select_all(action="DESELECT")
    bone = next(bone for bone in settings.rig.pose.bones if bone.bone.get(ELEMENT) == IN_HAND)
    # From Blender 5 on the pose bone has the selection.
    (bone if hasattr(bone, "select") else bone.bone).select = True


def _look_at_selected(context: bpy.types.Context) -> None:
    """What is selected, from the side and whole, in every 3D view; nothing where there is no window."""
    for area in context.screen.areas if context.screen and context.window else ():
        regions = [region for region in area.regions if region.type == "WINDOW"]
        if area.type == "VIEW_3D" and regions:
            view = area.spaces.active.region_3d
            if view.view_perspective != "CAMERA":
                view.view_rotation = SEEN_FROM.to_track_quat("Z", "Y")
            with context.temp_override(area=area, region=regions[0]):
                bpy.ops.view3d.view_selected()
