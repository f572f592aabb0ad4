"""What weighs besides the castings: discs in joints, steelwork through elements."""

from __future__ import annotations

import bpy

from ..bridge.casting_rows import selected_row
from ..bridge.kept_document import keep_document, write_text
from ..core_calcs.build.build import Build, Steelwork
from ..core_calcs.build.materials import DISC_MATERIALS, MATERIALS, find_material
from ..core_calcs.build.sections import MASS_UNCERTAINTY_SHARE, SECTIONS, TABLE_SOURCE, find_section
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.editing import set_build
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.parts import (
    DiscOrder,
    lay_steelwork,
    list_gaps,
    remove_discs,
    remove_steelwork,
    set_discs,
)
from ..translations.phrases import say
from .casting import ForRow, list_items
from .quantities import ask_area, ask_length, ask_mass, read_decimal, unit_scale
from .step import AS_GIVEN, NeedsSkeleton

SECTION_ITEMS = [(own.name, own.name, f"{own.kg_per_m:.3g} kg/m") for own in SECTIONS]


class COUNTERPOISE_OT_set_discs(ForRow, NeedsSkeleton, bpy.types.Operator):
    """Put a disc into the joint of the element selected, or into every joint of the series or whole that has a gap"""

    bl_idname = "counterpoise.set_discs"
    bl_label = "Set Discs"

    material: bpy.props.EnumProperty(
        name="Material", description="Of the discs", items=list_items([*DISC_MATERIALS, *MATERIALS]), options=AS_GIVEN
    )
    thickness: ask_length("Thickness", "0: as wide as the gap of each joint")
    area: ask_area("Area", "0: as large as the facets of each joint")
    mass: ask_mass("Mass of Each", "What each disc was found to weigh; 0: as calculated")
    mass_uncertainty: ask_mass("Uncertainty ±", "How far the scales may be off, to either side")

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        self.take_selected(context)
        return context.window_manager.invoke_props_dialog(self, title=say("Discs of {name}", name=self.name), width=340)

    def draw(self, _context: bpy.types.Context) -> None:
        self.layout.use_property_split, self.layout.use_property_decorate = True, False
        for name in ("material", "thickness", "area", "mass", "mass_uncertainty"):
            self.layout.prop(self, name)
        self.layout.label(text="0 means: as each joint's gap and facets are.", icon="INFO")

    def work(self, context: bpy.types.Context) -> str:
        document, metres = keep_document(context.scene).document, unit_scale(context)
        kg = read_decimal(self.mass) * metres**3 or None
        order = DiscOrder(
            find_material(self.material),
            thickness_m=read_decimal(self.thickness) * metres or None,
            area_m2=read_decimal(self.area) * metres**2 or None,
            weighed_kg=kg,
            weighed_uncertainty_kg=read_decimal(self.mass_uncertainty) * metres**3 if kg else 0.0,
        )
        joints = self.joints(document)
        change_build(context, document, set_discs(document.build, document.skeleton, joints, order))
        return say("{count} discs of {material}", count=len(joints), material=self.material)

    def joints(self, document: SkeletonDocument) -> list[str]:
        """Children of the joints that are meant; SkeletonError where there is none."""
        if self.level == "ELEMENT":
            return [document.skeleton.joint_of(self.name).child]
        gaps = set(list_gaps(document.skeleton))
        found = [child for child in list_children(document, self) if child in gaps]
        if not found:
            what = "none of its joints has facets between centra with a gap"
            raise SkeletonError(self.name or "discs", what, "select a single element, and give thickness and area")
        return found


class COUNTERPOISE_OT_remove_discs(ForRow, NeedsSkeleton, bpy.types.Operator):
    """Take the discs of the element, series or whole selected out"""

    bl_idname = "counterpoise.remove_discs"
    bl_label = "Remove Discs"

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        self.take_selected(context)
        return self.execute(context)

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        there = {disc.child for disc in document.build.discs}
        gone = [child for child in list_children(document, self) if child in there]
        if not gone:
            raise SkeletonError(self.name or "discs", "there are no discs in its joints", "select what has some")
        change_build(context, document, remove_discs(document.build, gone))
        return say("{count} discs taken out", count=len(gone))


class COUNTERPOISE_OT_lay_steelwork(NeedsSkeleton, bpy.types.Operator):
    """Lay steel of one section inside the elements, from the centre of one through the joints to that of another"""

    bl_idname = "counterpoise.lay_steelwork"
    bl_label = "Lay Steelwork"

    name: bpy.props.StringProperty(name="Name", description="One of the same name is replaced", options=AS_GIVEN)
    start: bpy.props.StringProperty(name="From", description="The element in which it begins", options=AS_GIVEN)
    end: bpy.props.StringProperty(name="To", description="The element in which it ends", options=AS_GIVEN)
    section: bpy.props.EnumProperty(
        name="Section", description="Round tube (diameter x wall) or bar, in mm", items=SECTION_ITEMS, options=AS_GIVEN
    )
    length: ask_length("Length", "Of the whole; 0: as far as it is along the joints")

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        row = selected_row(context.scene)
        if row is not None and row[0] == "ELEMENT" and not self.start:
            self.start = row[1]
        return context.window_manager.invoke_props_dialog(self, width=340)

    def draw(self, context: bpy.types.Context) -> None:
        self.layout.use_property_split, self.layout.use_property_decorate = True, False
        self.layout.prop(self, "name")
        for end in ("start", "end"):
            self.layout.prop_search(self, end, context.scene.counterpoise, "castings", icon="BONE_DATA")
        self.layout.prop(self, "section")
        self.layout.prop(self, "length")
        self.layout.label(text="Length 0 means: as far as it is along the joints.", icon="INFO")

    def work(self, context: bpy.types.Context) -> str:
        document, section = keep_document(context.scene).document, find_section(self.section)
        kg_per_m, length = section.kg_per_m, read_decimal(self.length) * unit_scale(context) or None
        uncertainty = MASS_UNCERTAINTY_SHARE * kg_per_m
        ends = (self.name.strip(), self.start, self.end)
        work = Steelwork(*ends, section.name, kg_per_m, uncertainty, TABLE_SOURCE, length)
        change_build(context, document, lay_steelwork(document.build, document.skeleton, work))
        return say("Steelwork {name}: {section}", name=work.name, section=section.name)


class COUNTERPOISE_OT_remove_steelwork(NeedsSkeleton, bpy.types.Operator):
    """Take this steelwork out"""

    bl_idname = "counterpoise.remove_steelwork"
    bl_label = "Remove Steelwork"

    name: bpy.props.StringProperty(name="Name", description="Of the steelwork", options=AS_GIVEN)

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        change_build(context, document, remove_steelwork(document.build, self.name))
        return say("Steelwork {name} taken out", name=self.name)


def list_children(document: SkeletonDocument, row: ForRow) -> list[str]:
    """Children of the joints of the whole, a series or an element."""
    skeleton = document.skeleton
    series = {element.name: element.series for element in skeleton.elements}
    if row.level == "ELEMENT":
        return [row.name]
    return [joint.child for joint in skeleton.joints if row.level == "ALL" or series[joint.child] == row.name]


def change_build(context: bpy.types.Context, document: SkeletonDocument, build: Build) -> None:
    """Write the document with another build."""
    write_text(context.scene.counterpoise.document, set_build(document, build))


CLASSES = (
    COUNTERPOISE_OT_set_discs,
    COUNTERPOISE_OT_remove_discs,
    COUNTERPOISE_OT_lay_steelwork,
    COUNTERPOISE_OT_remove_steelwork,
)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
