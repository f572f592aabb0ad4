"""How thick discs are at neutral: said for a joint, its series or the whole column, with a reason."""

from __future__ import annotations

from functools import partial
from typing import Any

import bpy

from ..bridge.figures import read_scene_pose
from ..bridge.joint_in_hand import find_in_hand
from ..bridge.kept_document import keep_document, text_path
from ..bridge.long_work import Calculation
from ..bridge.own_cache import open_own_cache
from ..bridge.scene import exchange_document
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.disc_thickness import (
    ToldThickness,
    choose_discs,
    describe_growth,
    describe_overlaps,
    list_discs,
    restore_discs,
    set_discs_thickness,
)
from ..core_calcs.studies.joints_by_hand import keep_turning
from ..translations.phrases import say
from .long_step import AsksFirst
from .meshes import require_same
from .quantities import ask_length, read_decimal, unit_scale
from .searching import ForJoint
from .step import AS_GIVEN, report_error


class COUNTERPOISE_OT_disc_thickness(ForJoint, AsksFirst, bpy.types.Operator):
    """Say how thick a disc is where the scanned gap is not the animal's: neutral moves to it, angles stay"""

    bl_idname = "counterpoise.disc_thickness"
    bl_label = "Disc Thickness"

    child: bpy.props.StringProperty(name="Element", description="The element that hangs on the joint", options=AS_GIVEN)
    scope: bpy.props.EnumProperty(
        name="Of",
        description="Which joints are meant",
        items=(
            ("JOINT", "This Joint", "The joint in hand"),
            ("SERIES", "Its Series", "All joints of the series that the element belongs to"),
            ("COLUMN", "Column", "All joints between end plates: a column that was mounted wrongly is closed up"),
        ),
        options=AS_GIVEN,
    )
    thickness: ask_length("Thickness", "Mean gap between the two end plates, cartilage included")
    as_scanned: bpy.props.BoolProperty(
        name="As Scanned",
        description="As thick as the gap that was scanned: neutral is again where it was",
        default=False,
        options=AS_GIVEN,
    )
    reason: bpy.props.StringProperty(
        name="Reason", description="Why, in your words: it stays with the joint", options=AS_GIVEN
    )

    def ask(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str] | None:
        if self.as_scanned or self.properties.is_property_set("thickness"):
            return None
        self.child = self.child or find_in_hand(context)
        discs = {disc.child: disc for disc in list_discs(keep_document(context.scene).document.skeleton)}
        own = discs.get(self.child)
        if self.child and own is None:
            what = "it has no end plates on both elements, so that no disc is known there"
            report_error(self, SkeletonError(f"joint of {self.child}", what, "choose another joint"))
            return {"CANCELLED"}
        if own is not None:
            self.thickness, self.reason = own.thickness_m / unit_scale(context), own.reason
        else:
            self.scope = "COLUMN"
        title = say("Discs of the Column")
        if own is not None:
            title = say("Disc between {parent} and {child}", parent=own.parent, child=own.child)
        return context.window_manager.invoke_props_dialog(self, title=title, width=360)

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split, layout.use_property_decorate = True, False
        if self.child:
            layout.row().prop(self, "scope", expand=True)
        layout.prop(self, "as_scanned")
        column = layout.column()
        column.active = not self.as_scanned
        column.prop(self, "thickness")
        column.prop(self, "reason")

    def answers(self) -> dict[str, Any]:
        names = ("child", "scope", "as_scanned") if self.as_scanned else ("child", "scope", "thickness", "reason")
        return {name: getattr(self, name) for name in names}

    def prepare(self, context: bpy.types.Context) -> Calculation:
        kept = keep_document(context.scene)
        document = kept.document
        folder = locate_mesh_folder(document, text_path(context.scene.counterpoise.document))
        self.found, self.digest = self.choose(context, document), kept.digest
        given, cache = (document, folder, self.found), open_own_cache()
        if self.as_scanned:
            return partial(restore_discs, *given, cache=cache)
        if not self.properties.is_property_set("thickness"):
            raise SkeletonError("disc", "no thickness is given", "give its thickness")
        told = ToldThickness(read_decimal(self.thickness) * unit_scale(context))
        return partial(set_discs_thickness, *given, told, self.reason, cache=cache)

    def choose(self, context: bpy.types.Context, document: SkeletonDocument) -> tuple[str, ...]:
        """The children of the joints that are meant."""
        if self.scope == "COLUMN":
            return choose_discs(document.skeleton, (), self.as_scanned)
        child = self.take_joint(context)
        if self.scope == "JOINT":
            return (child,)
        series = document.skeleton.elements[document.skeleton.index(child)].series
        return choose_discs(document.skeleton, (series,), self.as_scanned)

    def finish(self, context: bpy.types.Context, found: SkeletonDocument) -> str:
        require_same(context, self.digest)
        live = read_scene_pose(context, keep_document(context.scene))
        exchange_document(context, found, keep_turning(live, found.skeleton))
        return " ".join([describe_growth(list_discs(found.skeleton)), *describe_overlaps(found.skeleton, self.found)])


CLASSES = (COUNTERPOISE_OT_disc_thickness,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
