"""The joint in hand: what it rests on, where its movements end and why, and what is drawn of joints in the view."""

from __future__ import annotations

import bpy

from ..bridge.joint_frames import find_frame_shown
from ..bridge.joint_in_hand import show_in_hand
from ..bridge.joint_text import AxisFigure, JointFigure
from ..translations.phrases import capitalise, say, tell
from .figures import STATE_ICONS
from .tab import NAMES, Tab, is_narrow, line_width, show_page, write_beside, write_pair, write_wrapped

BESIDE = 9
"""So many letters of a heading's width are taken by arrow, icons and question mark."""

SURE_ICONS = {"found": "CHECKMARK", "ambiguous": "QUESTION", "by hand": "GREASEPENCIL", "none": "X"}


class COUNTERPOISE_PT_joint(Tab, bpy.types.Panel):
    """The joint of the active bone or of the element selected"""

    bl_idname = "COUNTERPOISE_PT_joint"
    bl_label = "Joint"
    bl_parent_id = "COUNTERPOISE_PT_pose"
    bl_options = {"DEFAULT_CLOSED"}  # noqa: RUF012  Blender wants a plain set

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene.counterpoise.document is not None

    def draw_header_preset(self, context: bpy.types.Context) -> None:
        joint = show_in_hand(context)
        if joint is not None:
            state, text = joint.range or ("", tell(joint.kind))
            told = f"{joint.child}: {text}"
            if len(told) + len(tell(COUNTERPOISE_PT_joint.bl_label)) + BESIDE > line_width(context):
                told = ""  # the heading stays readable; the box below has it all
            self.layout.label(text=told, icon=STATE_ICONS.get(state, "NONE"))
        show_page(self)

    def draw(self, context: bpy.types.Context) -> None:
        layout, overlays = self.layout, context.scene.counterpoise.overlays
        column = layout.column()
        write_beside(column, context, say("Facets in view"), NAMES).prop(overlays, "facets", expand=True)
        row = write_beside(column, context, say("In view"), NAMES)
        row.prop(overlays, "arcs", toggle=True)
        row.prop(overlays, "stops", toggle=True)
        joint = show_in_hand(context)
        if joint is None:
            write_wrapped(layout, context, "Select a bone in pose mode, or an element in the list (step 1).", "INFO")
            return
        draw_joint(layout.box(), context, joint)
        row = layout.row(align=True)
        row.operator("counterpoise.search_joint", icon="VIEWZOOM").child = joint.child
        other = row.operator("counterpoise.search_joint", text="", icon="PREFERENCES")
        other.child, other.edit = joint.child, True
        row = layout.row(align=True)
        if find_frame_shown(context) is None:
            row.operator("counterpoise.show_frame", icon="EMPTY_ARROWS").child = joint.child
        else:
            row.operator("counterpoise.take_frame", icon="EMPTY_ARROWS")
            row.operator("counterpoise.drop_frame", text="", icon="X")
            write_wrapped(layout, context, "G moves the frame, R turns it; then take it over, or put it away.", "INFO")
        if joint.disc:
            layout.operator("counterpoise.disc_thickness", icon="MOD_SOLIDIFY").child = joint.child


def draw_joint(layout: bpy.types.UILayout, context: bpy.types.Context, joint: JointFigure) -> None:
    """All that is known of one joint."""
    layout.label(text=say("{element} on {parent}", element=joint.child, parent=joint.parent), icon="BONE_DATA")
    sure = tell("no facets found" if joint.confidence == "none" else joint.confidence)
    kind = tell(joint.kind) if joint.kind in ("fixed", "by hand") else say("{kind} joint", kind=tell(joint.kind))
    known = kind if sure == kind else f"{kind}, {sure}"
    icon = SURE_ICONS[joint.confidence]
    write_wrapped(layout, context, f"{capitalise(known)}: {tell(joint.reason)}", icon)
    if joint.range is not None:
        state, text = joint.range
        write_pair(layout, context, say("Range"), text, icon=STATE_ICONS[state])
    if joint.together:
        write_wrapped(layout, context, capitalise(joint.together), "BLANK1")
    for axis in joint.axes:
        _draw_axis(layout.column(align=True), context, axis)
    for text in (joint.disc, joint.facets, joint.uncertainties, joint.settings):
        if text:
            write_wrapped(layout, context, text)


def _draw_axis(layout: bpy.types.UILayout, context: bpy.types.Context, axis: AxisFigure) -> None:
    """The present angle with its state, and below it where each way ends and why."""
    write_pair(layout, context, axis.name, axis.angle, icon=STATE_ICONS[axis.state])
    for angle, reason in axis.ends or (("", say("limits not known")),):
        row = layout.row()
        row.active, row.scale_y = False, 0.75
        if is_narrow(context):
            row.label(text=f"{angle} {reason}", icon="BLANK1")
            continue
        split = row.split(factor=NAMES)
        split.label(text=angle, icon="BLANK1")
        split.label(text=reason)


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_PT_joint,))
