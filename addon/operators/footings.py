"""What is under each foot."""

from __future__ import annotations

import bpy

from ..bridge.kept_document import KeptDocument, keep_document
from ..core_calcs.site.actions import Footing
from ..core_calcs.studies.site_by_hand import remove_footing, set_footing
from ..translations.phrases import say, tell
from .quantities import read_decimal, unit_scale
from .site_dialog import SiteDialog, ask_number, ask_whether, write_site
from .step import AS_GIVEN, NeedsSkeleton


class COUNTERPOISE_OT_set_footing(SiteDialog, bpy.types.Operator):
    """Say what is under this foot: another height, its own stiffness or friction, anchors"""

    bl_idname = "counterpoise.set_footing"
    bl_label = "Set Footing"
    fields = (
        *(("height", ""), ("stiffness_known", ""), ("stiffness", "stiffness_known"), ("friction_known", "")),
        *(("friction", "friction_known"), ("anchored", ""), ("anchor_known", "anchored"), ("anchor", "anchor_known")),
    )

    foot: bpy.props.StringProperty(name="Foot", description="Name of a foot or contact", options=AS_GIVEN)
    height: bpy.props.FloatProperty(
        name="Height", description="Of the ground under it, above the site's", unit="LENGTH", options=AS_GIVEN
    )
    stiffness_known: ask_whether("Own Stiffness", "Else as stiff as every other foot")
    stiffness: ask_number("Stiffness, kN/mm", "Of the foot and what is under it, vertically", 10.0)
    friction_known: ask_whether("Own Friction", "Else the site's")
    friction: ask_number("Friction", "Coefficient under this foot alone", 0.0, 10.0)
    anchored: ask_whether("Anchored", "It can be pulled at")
    anchor_known: ask_whether("Tension Known", "How much its anchors hold")
    anchor: ask_number("Tension, kN", "Characteristic tension that its anchors hold", 10.0)

    def title(self) -> str:
        return say("Footing of {foot}", foot=tell(self.foot))

    def take(self, kept: KeptDocument, metres: float) -> None:
        said = {footing.foot: footing for footing in kept.document.site.footings}
        own = said.get(self.foot, Footing(self.foot))
        self.height = own.height_m / metres
        self.stiffness_known, self.friction_known = own.stiffness_N_m is not None, own.friction is not None
        self.anchored, self.anchor_known = own.anchored, own.anchor_N is not None
        self.stiffness = 10.0 if own.stiffness_N_m is None else own.stiffness_N_m / 1e6
        self.friction = own.friction or 0.0
        self.anchor = 10.0 if own.anchor_N is None else own.anchor_N / 1000

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        footing = Footing(
            self.foot,
            read_decimal(self.height) * unit_scale(context),
            read_decimal(self.stiffness) * 1e6 if self.stiffness_known else None,
            read_decimal(self.friction) if self.friction_known else None,
            self.anchored,
            read_decimal(self.anchor) * 1000 if self.anchored and self.anchor_known else None,
        )
        write_site(context, document, set_footing(document, footing))
        return say("Footing of {foot} set", foot=tell(self.foot))


class COUNTERPOISE_OT_remove_footing(NeedsSkeleton, bpy.types.Operator):
    """Take back what was said of this foot: level ground, as stiff as every other, held by friction alone"""

    bl_idname = "counterpoise.remove_footing"
    bl_label = "Remove Footing"

    foot: bpy.props.StringProperty(name="Foot", description="Name of a foot or contact", options=AS_GIVEN)

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        write_site(context, document, remove_footing(document, self.foot))
        return say("{foot} stands on level ground", foot=tell(self.foot))


register, unregister = bpy.utils.register_classes_factory((COUNTERPOISE_OT_set_footing, COUNTERPOISE_OT_remove_footing))
