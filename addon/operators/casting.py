"""How the elements are cast: set for the whole, a series or an element; what hollow castings leave hollow is measured
beside Blender."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import bpy

from ..bridge.casting_rows import Row, selected_row
from ..bridge.castings import own_casting
from ..bridge.kept_document import keep_document, text_path, write_text
from ..bridge.long_work import Calculation
from ..core_calcs.build.build import Build, Casting, Material
from ..core_calcs.build.materials import BONES, MATERIALS, find_material
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.editing import set_build
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.skeleton.element import Element
from ..core_calcs.spatial.errors import DocumentError, SkeletonError
from ..core_calcs.studies.castings import (
    apply_build,
    cast_all,
    cast_as_rest,
    cast_element,
    cast_series,
    lacks_void,
    refuse_wall,
    take_voids,
)
from ..properties.castings import LEVELS
from ..translations.catalogues import CORE
from ..translations.phrases import say
from .long_step import AsksFirst
from .quantities import ask_length, ask_percent, read_decimal, unit_scale
from .step import AS_GIVEN, NeedsSkeleton

KINDS = [
    ("SOLID", "Solid", "Metal through and through"),
    ("HOLLOW", "Hollow", "Void deeper than the wall; what is thinner than two walls stays solid by itself"),
    ("BONE", "Bone Itself", "No casting: the bone itself, as dense as its material says"),
    ("AS_REST", "As the Rest", "Nothing of its own: as its series, or as all"),
]
LABELS = {kind: label.lower() for kind, label, _ in KINDS}
ANSWERS = ("level", "name", "kind", "wall", "wall_uncertainty", "struts", "struts_uncertainty", "alloy", "bone")
WALL_UNCERTAINTY_SHARE = 0.2
"""Of the wall, where no uncertainty is given."""


def list_items(materials: Sequence[Material]) -> list[tuple[str, str, str]]:
    """Materials as the items of a menu."""
    return [(own.name, own.name, f"{own.density_kg_m3:g} kg/m³: {own.source}") for own in materials]


ALLOYS = list_items(MATERIALS)
AS_ALL, AS_NOW = "AS_ALL", "AS_NOW"
OWN_ALLOYS = [
    (AS_ALL, "As the Whole", "Of the alloy that is set for the whole"),
    (AS_NOW, "As It Is", "Of what it is now, a material of your own perhaps"),
    *ALLOYS,
]


class ForRow:
    """Mixed into an operator that is about a row of the list of castings."""

    level: bpy.props.EnumProperty(name="Of", description="What this is about", items=LEVELS, options=AS_GIVEN)
    name: bpy.props.StringProperty(
        name="Name", description="Of the series or element; empty for the whole", options=AS_GIVEN
    )

    def row(self) -> Row:
        return self.level, self.name

    def take_selected(self, context: bpy.types.Context) -> None:
        """Called without a name, as from the search for operators: the row selected in the list."""
        row = selected_row(context.scene)
        if row is not None and not self.properties.is_property_set("name"):
            self.level, self.name = row


class COUNTERPOISE_OT_cast(ForRow, NeedsSkeleton, AsksFirst, bpy.types.Operator):
    """Say how the whole, a series or an element is cast. The voids of hollow castings are measured on the scans"""

    bl_idname = "counterpoise.cast"
    bl_label = "Set Casting"

    kind: bpy.props.EnumProperty(
        name="Cast", description="How it is cast", items=KINDS, translation_context=CORE, options=AS_GIVEN
    )
    wall: ask_length("Wall", "Thickness of the metal, at right angles to the surface")
    wall_uncertainty: ask_length("Wall ±", "How far the wall may be off, everywhere alike; 0: a fifth of the wall")
    struts: ask_percent("Struts", "Share of the void that struts or a lattice fill with metal")
    struts_uncertainty: ask_percent("Struts ±", "How far the struts' share may be off, in percentage points")
    alloy: bpy.props.EnumProperty(
        name="Alloy", description="What it is cast in", items=OWN_ALLOYS, default=AS_NOW, options=AS_GIVEN
    )
    bone: bpy.props.EnumProperty(
        name="Density", description="How dense the bone is", items=list_items(BONES), options=AS_GIVEN
    )

    def ask(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str] | None:
        self.take_selected(context)
        if self.properties.is_property_set("kind"):
            return None
        self.fill(own_casting(keep_document(context.scene).document.build, self.row()), unit_scale(context))
        return context.window_manager.invoke_props_dialog(
            self, title=say("Casting of {name}", name=self.name), width=320
        )

    def fill(self, casting: Casting, metres: float) -> None:
        """Show what it goes by now."""
        self.kind, self.struts = casting.kind.upper(), 100 * casting.struts_share
        self.wall, self.wall_uncertainty = casting.wall_m / metres, casting.wall_uncertainty_m / metres
        self.struts_uncertainty = 100 * casting.struts_uncertainty_share
        if casting.material is None:
            self.alloy = AS_ALL
        elif casting.material in MATERIALS:
            self.alloy = casting.material.name
        if casting.material in BONES:
            self.bone = casting.material.name

    def draw(self, _context: bpy.types.Context) -> None:
        column = self.layout.column()
        column.use_property_split, column.use_property_decorate = True, False
        kinds = column.row(align=True)
        kinds.use_property_split = False
        for kind, *_ in KINDS[: 3 if self.level == "ALL" else 4]:
            kinds.prop_enum(self, "kind", kind)
        for pair in (("wall", "wall_uncertainty"), ("struts", "struts_uncertainty")):
            hollow = column.column(align=True)
            hollow.active = self.kind == "HOLLOW"
            for name in pair:
                hollow.prop(self, name)
        if self.kind == "BONE":
            column.prop(self, "bone")
        elif self.level != "ALL" and self.kind != "AS_REST":
            column.prop(self, "alloy")

    def answers(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in ANSWERS}

    def prepare(self, context: bpy.types.Context) -> Calculation:
        document = keep_document(context.scene).document
        folder = locate_mesh_folder(document, text_path(context.scene.counterpoise.document))
        return partial(apply_build, document, self.change(document, unit_scale(context)), folder)

    def finish(self, context: bpy.types.Context, found: SkeletonDocument) -> str:
        """Poses may have been saved meanwhile: the voids go into the document that is there now."""
        document = keep_document(context.scene).document
        build = self.change(document, unit_scale(context))
        changed = take_voids(set_build(document, build), found)
        if any(lacks_void(element, build) for element in changed.skeleton.elements):
            raise DocumentError("scene", "its castings or scans were changed meanwhile", "do it again")
        if self.kind == "HOLLOW":
            refuse_wall([own for own in changed.skeleton.elements if is_of_row(own, self.row())], build)
        write_text(context.scene.counterpoise.document, changed)
        return f"{self.name or 'All'}: {LABELS[self.kind]}"

    def change(self, document: SkeletonDocument, metres: float) -> Build:
        """The document's build with what was asked for."""
        build = document.build
        if self.level == "SERIES" and self.name not in {element.series for element in document.skeleton.elements}:
            raise SkeletonError(self.name or "series", "the skeleton has no element of it", "check the spelling")
        if self.level == "ELEMENT":
            document.skeleton.index(self.name)
        if self.kind == "AS_REST":
            if self.level == "ALL":
                raise SkeletonError(
                    "casting", "the whole cannot be cast as the rest", "choose solid, hollow or bone itself"
                )
            return cast_as_rest(build, *(([self.name], ()) if self.level == "SERIES" else ((), [self.name])))
        casting = self.casting(metres, own_casting(build, self.row()))
        if self.level == "SERIES":
            return cast_series(build, self.name, casting)
        return cast_element(build, self.name, casting) if self.level == "ELEMENT" else cast_all(build, casting)

    def casting(self, metres: float, present: Casting) -> Casting:
        """What was asked for, where the row goes by the present one."""
        if self.kind == "BONE":
            return Casting("bone", material=find_material(self.bone))
        material = None if self.alloy in (AS_ALL, AS_NOW) else find_material(self.alloy)
        if self.alloy == AS_NOW and present.kind != "bone":
            material = present.material
        if self.kind == "SOLID":
            return Casting(material=material)
        wall, uncertainty = (read_decimal(getattr(self, name)) * metres for name in ("wall", "wall_uncertainty"))
        if wall <= 0:
            raise SkeletonError("casting", "a hollow casting needs a wall", "give its thickness")
        struts, struts_uncertainty = (read_decimal(share) / 100 for share in (self.struts, self.struts_uncertainty))
        return Casting(
            "hollow", wall, uncertainty or WALL_UNCERTAINTY_SHARE * wall, struts, struts_uncertainty, material
        )


def is_of_row(element: Element, row: Row) -> bool:
    """Whether an element is the row's, one of its series, or of the whole."""
    level, name = row
    return level == "ALL" or name == (element.series if level == "SERIES" else element.name)


class COUNTERPOISE_OT_set_alloy(NeedsSkeleton, bpy.types.Operator):
    """Choose what the castings are made of, and how uncertain the scans' scale is"""

    bl_idname = "counterpoise.set_alloy"
    bl_label = "Set Alloy and Scale"

    alloy: bpy.props.EnumProperty(
        name="Alloy", description="What the castings are made of", items=ALLOYS, options=AS_GIVEN
    )
    scale_uncertainty: ask_percent(
        "Scans' Scale ±", "How far every length of the scans may be off, in % of it", precision=2
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        build = keep_document(context.scene).document.build
        if build.material in MATERIALS:
            self.alloy = build.material.name
        self.scale_uncertainty = 100 * build.scale_uncertainty_share
        return context.window_manager.invoke_props_dialog(self, title="Alloy and Scale", width=400)

    def draw(self, _context: bpy.types.Context) -> None:
        self.layout.use_property_split, self.layout.use_property_decorate = True, False
        self.layout.prop(self, "alloy")
        self.layout.prop(self, "scale_uncertainty")

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        build = document.build
        if self.properties.is_property_set("alloy"):
            build = replace(build, material=find_material(self.alloy))
        if self.properties.is_property_set("scale_uncertainty"):
            build = replace(build, scale_uncertainty_share=read_decimal(self.scale_uncertainty) / 100)
        write_text(context.scene.counterpoise.document, set_build(document, build))
        return say("Cast in {material}", material=build.material.name)


CLASSES = (COUNTERPOISE_OT_cast, COUNTERPOISE_OT_set_alloy)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
