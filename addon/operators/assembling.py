"""A column put together from elements that stand anywhere, mated by the facets that are known on them."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import bpy

from ..bridge.calculations import assemble_column
from ..bridge.contacts import holds_choice, list_chosen
from ..bridge.figures import read_scene_pose
from ..bridge.kept_document import keep_document, text_path
from ..bridge.long_work import Calculation
from ..bridge.own_cache import open_own_cache
from ..bridge.records import draft_record
from ..bridge.scene import exchange_document
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.assembly import Assembly
from ..core_calcs.studies.assembly_plans import AssemblyOrder
from ..core_calcs.studies.joints_by_hand import keep_turning
from ..core_calcs.studies.told_gaps import ToldGap, read_gap_table
from ..properties.paths import PATH_OPTIONS
from ..translations.phrases import list_few, say
from .long_step import AsksFirst
from .meshes import require_same
from .quantities import ask_length, ask_percent, read_decimal, unit_scale
from .step import AS_GIVEN, NeedsRig, require_path

GAPS = (
    ("BEFORE", "As Before", "As an earlier mounting had them, where that is known"),
    ("LENGTH", "One Length", "The same between the end plates of every joint"),
    ("SHARE", "By Size", "A share of each joint's size: where nothing is known, 5 %"),
)
FIGURES = {
    ("LENGTH", False): ("gap",),
    ("LENGTH", True): ("ventral", "dorsal"),
    ("SHARE", False): ("share",),
    ("SHARE", True): ("ventral_share", "dorsal_share"),
}
"""What is asked of every gap, by how it is said and whether discs are wedges."""
NOMINAL_PERCENT = 5.0
FEW = 4
"""So many elements are named."""


class COUNTERPOISE_OT_assemble(NeedsRig, AsksFirst, bpy.types.Operator):
    """Mate the column's elements by their facets, outwards from the root, at the gaps asked for. A record is kept"""

    bl_idname = "counterpoise.assemble"
    bl_label = "Assemble Loose Elements"

    gaps: bpy.props.EnumProperty(
        name="Gaps", description="How far end plates are to be apart; a disc that was set wins", items=GAPS,
        default="BEFORE", options=AS_GIVEN,
    )  # fmt: skip
    gap: ask_length("Gap", "Between the end plates of every joint")
    share: ask_percent("Gap", "Between the end plates, in % of each joint's size")
    wedge: bpy.props.BoolProperty(
        name="Wedges",
        description="Two heights instead of one figure: at the ventral and at the dorsal rim of the end plates",
        default=False,
        options=AS_GIVEN,
    )
    ventral: ask_length("Ventral", "Of every disc, from rim to rim on the belly's side")
    dorsal: ask_length("Dorsal", "Of every disc, from rim to rim on the back's side")
    ventral_share: ask_percent("Ventral", "From rim to rim on the belly's side, in % of each joint's size")
    dorsal_share: ask_percent("Dorsal", "From rim to rim on the back's side, in % of each joint's size")
    table: bpy.props.StringProperty(
        name="Own Gaps From",
        description="A table (CSV) of joints whose gaps differ: joint, gap_mm, or ventral_mm and dorsal_mm; or empty",
        subtype="FILE_PATH",
        options=PATH_OPTIONS | AS_GIVEN,
    )
    pin: bpy.props.BoolProperty(
        name="Pin What Is Selected",
        description="Elements selected stay where they stand; what is open between two is shared out over the joints",
        default=False,
        options=AS_GIVEN,
    )
    earlier: bpy.props.StringProperty(
        name="Facets From",
        description="A skeleton document of the same files in which the facets are known; empty: marks and facets here",
        subtype="FILE_PATH",
        options=PATH_OPTIONS | AS_GIVEN,
    )
    reason: bpy.props.StringProperty(
        name="Reason", description="Why, in your words: it stays in the record", options=AS_GIVEN
    )

    def ask(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str] | None:
        if self.properties.is_property_set("gaps"):
            return None
        self.share = self.ventral_share = self.dorsal_share = NOMINAL_PERCENT
        self.pin = holds_choice(context)
        return context.window_manager.invoke_props_dialog(self, title="Assemble Loose Elements", width=400)

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split, layout.use_property_decorate = True, False
        layout.row().prop(self, "gaps", expand=True)
        if self.gaps != "BEFORE":
            layout.prop(self, "wedge")
        for name in self.list_figures():
            layout.prop(self, name)
        layout.prop(self, "table")
        layout.prop(self, "earlier")
        pins = layout.column()
        chosen = list_chosen(context, keep_document(context.scene))
        pins.enabled = bool(chosen)
        pins.prop(self, "pin")
        if chosen:
            pins.label(text=list_few(chosen, FEW), icon="PINNED")
        layout.prop(self, "reason")

    def answers(self) -> dict[str, Any]:
        names = ("gaps", "wedge", *self.list_figures(), "table", "pin", "earlier", "reason")
        return {name: getattr(self, name) for name in names}

    def list_figures(self) -> tuple[str, ...]:
        """The properties that say every gap."""
        return FIGURES.get((self.gaps, self.wedge), ())

    def prepare(self, context: bpy.types.Context) -> Calculation:
        kept = keep_document(context.scene)
        own = read_gap_table(require_path(self.table, "table of gaps")) if self.table.strip() else {}
        pinned = tuple(list_chosen(context, kept)) if self.pin else ()
        order = AssemblyOrder(self.read_gaps(context), own, pinned)
        earlier = require_path(self.earlier, "earlier document") if self.earlier.strip() else None
        told = draft_record(context.scene, self.reason.strip())
        self.digest = kept.digest
        given = (kept.document, self.find_folder(context), order, told, earlier)
        return partial(assemble_column, *given, open_own_cache())

    def find_folder(self, context: bpy.types.Context) -> Path:
        """The folder of the mesh files."""
        text = context.scene.counterpoise.document
        return locate_mesh_folder(keep_document(context.scene).document, text_path(text))

    def read_gaps(self, context: bpy.types.Context) -> ToldGap | None:
        """The gap of every joint as it was given; None: as before."""
        names = self.list_figures()
        if not names:
            return None
        for name in names if self.wedge else ():
            if not self.properties.is_property_set(name):
                ventral = name.startswith("ventral")
                what = "its ventral height is missing" if ventral else "its dorsal height is missing"
                raise SkeletonError("every joint", what, "give both heights")
        figures = [read_decimal(getattr(self, name)) for name in names]
        if self.gaps == "SHARE":
            return ToldGap(tuple(figure / 100 for figure in figures), "share")
        return ToldGap(tuple(figure * unit_scale(context) for figure in figures))

    def finish(self, context: bpy.types.Context, found: Assembly) -> str:
        require_same(context, self.digest)
        live = read_scene_pose(context, keep_document(context.scene))
        exchange_document(context, found.document, keep_turning(live, found.document.skeleton))
        skeleton, mated = found.document.skeleton, [joint for joint in found.joints if joint.facets_from]
        still = [joint.child for joint in mated if not skeleton.joint_of(joint.child).moves]
        remarked = [joint.child for joint in found.joints if joint.remarks]
        told = [say("{count} joints put together", count=len(mated))]
        if found.upright:
            told.append(say("the whole was turned upright"))
        if not (still or remarked):
            return say("{done}. Set poses on the ground again whose feet moved", done="; ".join(told))
        if still:
            told.append(say("no joint is found now at {elements}", elements=", ".join(still)))
        if remarked:
            told.append(say("to be looked at, see Records: {elements}", elements=", ".join(remarked)))
        self.report({"WARNING"}, "; ".join(told))
        return ""


CLASSES = (COUNTERPOISE_OT_assemble,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
