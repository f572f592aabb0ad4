"""What finished castings were found to weigh: it goes before what is calculated."""

from __future__ import annotations

import bpy

from ..bridge.kept_document import keep_document, write_text
from ..core_calcs.build.build import Weighing
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.editing import set_build
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.castings import forget_weighings, note_weighings
from ..properties.castings import LEVELS
from ..translations.phrases import say
from .casting import ForRow
from .quantities import ask_mass, read_decimal, unit_scale
from .step import AS_GIVEN, NeedsSkeleton


class ForElement(ForRow):
    """Mixed into an operator that is about one element."""

    level: bpy.props.EnumProperty(
        name="Of", description="What this is about", items=LEVELS, default="ELEMENT", options=AS_GIVEN
    )

    def require_element(self, document: SkeletonDocument) -> None:
        """SkeletonError where it is none of the document's."""
        if self.level != "ELEMENT":
            raise SkeletonError(self.name or "castings", "it is no single element", "select one in the list")
        document.skeleton.index(self.name)


class COUNTERPOISE_OT_weigh(ForElement, NeedsSkeleton, bpy.types.Operator):
    """Enter what a finished casting weighs. It replaces the calculated mass; the difference is shown"""

    bl_idname = "counterpoise.weigh"
    bl_label = "Weigh"

    mass: ask_mass("Mass", "As weighed")
    uncertainty: ask_mass("Uncertainty ±", "How far the scales may be off, to either side")
    note: bpy.props.StringProperty(name="Note", description="When, where, on what scales", options=AS_GIVEN)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        self.take_selected(context)
        kilograms = unit_scale(context) ** 3
        for own in keep_document(context.scene).document.build.weighings:
            if own.element == self.name:
                self.mass, self.uncertainty, self.note = (
                    own.mass_kg / kilograms,
                    own.uncertainty_kg / kilograms,
                    own.note,
                )
        return context.window_manager.invoke_props_dialog(self, title=say("{element} as Weighed", element=self.name))

    def draw(self, _context: bpy.types.Context) -> None:
        self.layout.use_property_split, self.layout.use_property_decorate = True, False
        for name in ("mass", "uncertainty", "note"):
            self.layout.prop(self, name)

    def work(self, context: bpy.types.Context) -> str:
        document, kilograms = keep_document(context.scene).document, unit_scale(context) ** 3
        self.require_element(document)
        mass, uncertainty = read_decimal(self.mass) * kilograms, read_decimal(self.uncertainty) * kilograms
        if mass <= 0:
            raise SkeletonError(self.name, "its mass must be greater than 0", "give the mass as weighed")
        build = note_weighings(document.build, [Weighing(self.name, mass, uncertainty, self.note.strip())])
        write_text(context.scene.counterpoise.document, set_build(document, build))
        return say("{element} as weighed", element=self.name)


class COUNTERPOISE_OT_forget_weighing(ForElement, NeedsSkeleton, bpy.types.Operator):
    """Drop the weighing of an element: its calculated mass counts again"""

    bl_idname = "counterpoise.forget_weighing"
    bl_label = "Forget Weighing"

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        self.take_selected(context)
        return self.execute(context)

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        self.require_element(document)
        if self.name not in {own.element for own in document.build.weighings}:
            raise SkeletonError(self.name or "element", "it was not weighed", "choose one that was")
        build = forget_weighings(document.build, [self.name])
        write_text(context.scene.counterpoise.document, set_build(document, build))
        return say("{element} as calculated", element=self.name)


CLASSES = (COUNTERPOISE_OT_weigh, COUNTERPOISE_OT_forget_weighing)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
