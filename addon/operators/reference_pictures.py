"""A reference picture behind the view."""

from __future__ import annotations

import bpy
import numpy as np

from ..bridge.reference_pictures import add_reference, find_view, list_references, remove_reference
from ..core_calcs.spatial.errors import CounterpoiseError
from ..translations.phrases import say, tell
from .step import AS_GIVEN, NeedsSkeleton, require_path

VIEWS = [
    ("CURRENT", "Present View", "The side that the view is nearest to"),
    ("LEFT", "Left", "Seen from the animal's left"),
    ("RIGHT", "Right", "Seen from the animal's right"),
    ("FRONT", "Front", "Seen from before its head"),
    ("BACK", "Back", "Seen from behind its tail"),
    ("TOP", "Top", "Seen from above"),
    ("BOTTOM", "Bottom", "Seen from below"),
]


class COUNTERPOISE_OT_add_reference(NeedsSkeleton, bpy.types.Operator):
    """Put a picture behind the elements, as wide as the skeleton; it is seen in views along the axes"""

    bl_idname = "counterpoise.add_reference"
    bl_label = "Add Reference"

    filepath: bpy.props.StringProperty(
        name="Picture", description="The picture's file", subtype="FILE_PATH", options=AS_GIVEN
    )
    filter_image: bpy.props.BoolProperty(default=True, options={"HIDDEN", "SKIP_SAVE"})
    filter_folder: bpy.props.BoolProperty(default=True, options={"HIDDEN", "SKIP_SAVE"})
    view: bpy.props.EnumProperty(name="View", description="Behind which view", items=VIEWS)
    opacity: bpy.props.FloatProperty(
        name="Opacity", description="0: cannot be seen, 1: hides what is behind it", min=0.0, max=1.0, default=0.5
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        if self.view == "CURRENT":
            self.view = read_view(context)
        if self.filepath:
            return self.execute(context)
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def work(self, context: bpy.types.Context) -> str:
        view = read_view(context) if self.view == "CURRENT" else self.view
        picture = add_reference(context.scene, require_path(self.filepath, "picture"), view, self.opacity)
        return say("{picture} stands behind the view from {side}", picture=picture.name, side=tell(VIEW_NAMES[view]))


class COUNTERPOISE_OT_remove_reference(NeedsSkeleton, bpy.types.Operator):
    """Take a reference picture out of the scene; its file stays"""

    bl_idname = "counterpoise.remove_reference"
    bl_label = "Remove Reference Picture"

    name: bpy.props.StringProperty(name="Picture", description="The picture's name", options=AS_GIVEN)

    def work(self, context: bpy.types.Context) -> str:
        for picture in list_references(context.scene):
            if picture.name == self.name:
                remove_reference(picture)
                return ""
        raise CounterpoiseError(self.name, "no reference picture has that name", "choose one of the list")


VIEW_NAMES = {
    "LEFT": "the left", "RIGHT": "the right", "FRONT": "the front", "BACK": "the back", "TOP": "above",
    "BOTTOM": "below",
}  # fmt: skip


def read_view(context: bpy.types.Context) -> str:
    """The side that the 3D view is nearest to; the left where there is no view."""
    area = context.area
    if area is None or area.type != "VIEW_3D":
        return "LEFT"
    turn = np.array(area.spaces.active.region_3d.view_matrix.inverted().to_3x3())
    return find_view(turn[:, 2])


CLASSES = (COUNTERPOISE_OT_add_reference, COUNTERPOISE_OT_remove_reference)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
