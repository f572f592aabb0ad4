"""Places by hand: what no bone holds in place is moved with Blender's own G and R, then taken over, with a reason."""

from __future__ import annotations

import bpy

from ..bridge.figures import read_scene_pose
from ..bridge.kept_document import KeptDocument, keep_document
from ..bridge.places import read_place, selected_element
from ..bridge.proxies import select_proxy
from ..bridge.scene import exchange_document
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.places_by_hand import (
    list_free,
    list_placed,
    place_in_document,
    restore_in_document,
    straddle_in_document,
)
from ..translations.phrases import look_up, say
from .step import AS_GIVEN, NeedsRig, report_error

TAKE_FIRST = "Take an element, move it with G or turn it with R, and leave it selected"
_items: dict[str, list[tuple[str, str, str]]] = {}
"""The last menu of elements by the document's digest: Blender does not keep the texts of a menu alive."""


def list_items(_operator: object, context: bpy.types.Context | None) -> list[tuple[str, str, str]]:
    """The elements that may be placed, as the items of a menu."""
    if context is None or context.scene.counterpoise.document is None:
        return []
    kept = keep_document(context.scene)
    if kept.digest not in _items:
        _items.clear()
        skeleton = kept.document.skeleton
        _items[kept.digest] = [
            (name, name, say("On {parent}", parent=skeleton.joint_of(name).parent)) for name in list_free(skeleton)
        ]
    return _items[kept.digest]


class COUNTERPOISE_OT_take_element(NeedsRig, bpy.types.Operator):
    """Select an element that no bone of a joint holds in place, to be moved with G and turned with R"""

    bl_idname = "counterpoise.take_element"
    bl_label = "Take Element"
    bl_property = "element"

    element: bpy.props.EnumProperty(name="Element", description="To be placed", items=list_items, options=AS_GIVEN)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        context.window_manager.invoke_search_popup(self)
        return {"RUNNING_MODAL"}

    def work(self, context: bpy.types.Context) -> str:
        if not select_proxy(context, self.element):
            what = "it is not in the view, or no element may be placed"
            raise SkeletonError(self.element or "element", what, "build the rig again, which reads what is missing")
        return say("{element}: move it with G, turn it with R, then Place Element", element=self.element)


class COUNTERPOISE_OT_place_element(NeedsRig, bpy.types.Operator):
    """Take the selected element's new place over, for good: all that hangs on it goes along, no angle changes"""

    bl_idname = "counterpoise.place_element"
    bl_label = "Place Element"

    reason: bpy.props.StringProperty(
        name="Reason", description="Why, in your words: it stays with the element", options=AS_GIVEN
    )

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        return super().name_lack(context) or ("" if selected_element(context) else TAKE_FIRST)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        kept, name = keep_document(context.scene), selected_element(context)
        try:
            read_place(context, kept, name)  # what cannot be is told before a reason is asked for
        except SkeletonError as error:
            report_error(self, error)
            return {"CANCELLED"}
        known = {placed.element: placed.reason for placed in list_placed(kept.document.skeleton)}
        self.reason = self.reason or known.get(name, "")
        return context.window_manager.invoke_props_dialog(self, title=say("Place {element}", element=name), width=360)

    def work(self, context: bpy.types.Context) -> str:
        kept, name = keep_document(context.scene), selected_element(context)
        changed = place_in_document(kept.document, name, read_place(context, kept, name), self.reason)
        show_changed(context, kept, changed, name)
        return say("{element} placed", element=name)


class COUNTERPOISE_OT_restore_place(NeedsRig, bpy.types.Operator):
    """Put this element, with all that hangs on it, back to where it was scanned against its parent"""

    bl_idname = "counterpoise.restore_place"
    bl_label = "Back to Scanned Place"

    element: bpy.props.StringProperty(name="Element", description="Its name; empty: the one selected", options=AS_GIVEN)

    def work(self, context: bpy.types.Context) -> str:
        kept, name = keep_document(context.scene), self.element or selected_element(context)
        show_changed(context, kept, restore_in_document(kept.document, name), name)
        return say("{element} is back where it was scanned", element=name)


class COUNTERPOISE_OT_straddle(NeedsRig, bpy.types.Operator):
    """Let a fixed element follow two others half and half: a rib's head, a chevron between two vertebrae"""

    bl_idname = "counterpoise.straddle"
    bl_label = "Follow Two Elements"

    element: bpy.props.StringProperty(name="Element", description="Fixed to its parent", options=AS_GIVEN)
    also: bpy.props.StringProperty(
        name="Also Follows", description="The element that it follows besides its parent", options=AS_GIVEN
    )
    alone: bpy.props.BoolProperty(
        name="Parent Alone", description="Follow the parent alone again", default=False, options=AS_GIVEN
    )

    @classmethod
    def description(cls, _context: bpy.types.Context, properties: bpy.types.OperatorProperties) -> str:
        return look_up("Let it follow its parent alone again") if properties.alone else look_up(cls.__doc__ or "")

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        if self.alone:
            return self.execute(context)
        self.element = self.element or selected_element(context)
        return context.window_manager.invoke_props_dialog(self, width=360)

    def draw(self, context: bpy.types.Context) -> None:
        self.layout.use_property_split, self.layout.use_property_decorate = True, False
        for name in ("element", "also"):
            self.layout.prop_search(self, name, context.scene.counterpoise, "castings", icon="BONE_DATA")

    def work(self, context: bpy.types.Context) -> str:
        kept, also = keep_document(context.scene), None if self.alone else self.also
        changed = straddle_in_document(kept.document, self.element, also)
        exchange_document(context, changed, read_scene_pose(context, kept))
        parent = changed.skeleton.joint_of(self.element).parent
        if also:
            return say("{element} follows {parent} and {also}", element=self.element, parent=parent, also=also)
        return say("{element} follows {parent} alone", element=self.element, parent=parent)


def show_changed(context: bpy.types.Context, kept: KeptDocument, changed: SkeletonDocument, name: str) -> None:
    """Write the document and make the rig fit it in the live pose; the element stays selected."""
    exchange_document(context, changed, read_scene_pose(context, kept))
    select_proxy(context, name, look=False)


CLASSES = (
    COUNTERPOISE_OT_take_element,
    COUNTERPOISE_OT_place_element,
    COUNTERPOISE_OT_restore_place,
    COUNTERPOISE_OT_straddle,
)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
