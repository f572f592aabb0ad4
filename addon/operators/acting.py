"""Who pushes, pulls or climbs, and where."""

from __future__ import annotations

import bpy

from ..bridge.kept_document import keep_document
from ..bridge.siting import element_in_hand, find_cursor
from ..core_calcs.site.actions import DEFAULT_N
from ..core_calcs.studies.site_by_hand import add_action, make_action, remove_action
from ..translations.catalogues import CORE
from ..translations.phrases import say
from .quantities import read_decimal
from .site_dialog import ask_number, ask_whether, write_site
from .step import AS_GIVEN, NeedsRig, NeedsSkeleton

KINDS = [
    ("push", "Push", "A force by hand: horizontal, in the worst direction, or along one that you give"),
    ("pull", "Pull", "The same, pulling: on a rope, for example"),
    ("person", "Person", "Somebody's weight, straight down"),
]


class COUNTERPOISE_OT_add_action(NeedsRig, bpy.types.Operator):
    """Let somebody push, pull or climb at the 3D cursor, on the active element: it goes with it into every pose"""

    bl_idname = "counterpoise.add_action"
    bl_label = "Add Action at Cursor"

    kind: bpy.props.EnumProperty(
        name="Kind", description="What acts", items=KINDS, translation_context=CORE, options=AS_GIVEN
    )
    force: ask_number("Force, kN", "0: as usual, 1.5 for a push or pull, 2 for a person (common practice)", 0.0)
    directed: ask_whether("Along a Direction", "Otherwise horizontal, in the worst direction")
    direction: bpy.props.FloatVectorProperty(
        name="Direction", description="In the world, of any length", size=3, default=(0, 0, -1), options=AS_GIVEN
    )
    name: bpy.props.StringProperty(
        name="Name", description="Of the action; empty: after kind and element", options=AS_GIVEN
    )

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        select = "Select the element that it acts on, or its bone in pose mode, and put the 3D cursor on it"
        return super().name_lack(context) or ("" if element_in_hand(context) else select)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(
            self, title=say("Action on {element}", element=element_in_hand(context))
        )

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split, layout.use_property_decorate = True, False
        layout.row().prop(self, "kind", expand=True)
        layout.prop(self, "force")
        if self.kind != "person":
            layout.prop(self, "directed")
            column = layout.column()
            column.enabled = self.directed
            column.prop(self, "direction")
        layout.prop(self, "name")
        usual = f"{DEFAULT_N[self.kind] / 1000:g} kN"
        layout.label(text=say("Force 0 means {force}: common practice, no source.", force=usual), icon="INFO")

    def work(self, context: bpy.types.Context) -> str:
        kept, element = keep_document(context.scene), element_in_hand(context)
        point = find_cursor(context, kept, element)
        directed = self.kind != "person" and (self.directed or self.properties.is_property_set("direction"))
        directed = directed and (self.directed or not self.properties.is_property_set("directed"))
        direction = [read_decimal(value) for value in self.direction] if directed else None
        force = read_decimal(self.force) * 1000 or None
        made = make_action(kept.document, self.kind, element, point, force, direction, self.name)
        write_site(context, kept.document, add_action(kept.document, made))
        return say("{action}: {force}", action=made.name, force=f"{made.force_N / 1000:g} kN")


class COUNTERPOISE_OT_remove_action(NeedsSkeleton, bpy.types.Operator):
    """Take this action out"""

    bl_idname = "counterpoise.remove_action"
    bl_label = "Remove Action"

    name: bpy.props.StringProperty(name="Action", description="Its name", options=AS_GIVEN)

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        write_site(context, document, remove_action(document, self.name))
        return say("{action} no longer acts", action=self.name)


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_OT_add_action, COUNTERPOISE_OT_remove_action))
