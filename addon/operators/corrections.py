"""Errors of the mount put right by one click, with a reason, and put back the same way."""

from __future__ import annotations

import textwrap
from functools import partial
from typing import Any

import bpy

from ..bridge.audit import NONE, VerdictFigure, find_verdict, word_verdict
from ..bridge.calculations import MadeBone, put_verdict_right, take_back
from ..bridge.figures import read_scene_pose
from ..bridge.kept_document import keep_document, text_path
from ..bridge.long_work import Calculation
from ..bridge.own_cache import open_own_cache
from ..bridge.proxies import select_proxies
from ..bridge.records import draft_record, last_title
from ..bridge.scene import exchange_document, require_proxies
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.skeleton.verdict import Verdict, choose_way
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.corrections import last_correction
from ..core_calcs.studies.joints_by_hand import keep_turning
from ..translations.phrases import say, tell
from .long_step import AsksFirst
from .meshes import require_same
from .step import AS_GIVEN, NeedsRig, proxy_triangles, report_error

REASON = "Why, in your words: it stays in the record"
NOT_COUNTING = "no such verdict counts for the skeleton as it is"
DIALOG_PX, LETTER_PX = 460, 5.8
"""Width of a dialog, and of a letter in it on average."""


class Corrects(NeedsRig, AsksFirst):
    """Mixed into an operator that puts elements right, or back, for a reason."""

    def require_reason(self) -> str:
        """The reason; SkeletonError where none is given."""
        if not self.reason.strip():
            raise SkeletonError("correction", "no reason is given", "give a reason: it stays in the record")
        return self.reason.strip()

    def finish(self, context: bpy.types.Context, found: SkeletonDocument | MadeBone) -> str:
        require_same(context, self.digest)
        document, surfaces = (found.document, found.surfaces) if isinstance(found, MadeBone) else (found, {})
        live, record = read_scene_pose(context, keep_document(context.scene)), document.records[-1]
        exchange_document(context, document, keep_turning(live, document.skeleton), surfaces)
        select_proxies(context, record.elements, look=False)
        return f"{', '.join(record.elements)}: {tell(record.what)}"


class COUNTERPOISE_OT_put_right(Corrects, bpy.types.Operator):
    """Turn or mirror the element, or exchange the two, as found or chosen. Joints are found anew; a record is kept"""

    bl_idname = "counterpoise.put_right"
    bl_label = "Put Right"

    number: bpy.props.IntProperty(
        name="Number", description="Of the verdict, from 0; below zero: the one shown", default=-1, options=AS_GIVEN
    )
    way: bpy.props.StringProperty(
        name="Way", description="Chosen where the audit found none wrong; empty: what it found wrong", options=AS_GIVEN
    )
    reason: bpy.props.StringProperty(name="Reason", description=REASON, options=AS_GIVEN)

    def take_verdict(self, context: bpy.types.Context) -> Verdict:
        """The verdict that is meant, decided where a way is chosen; SkeletonError where there is none."""
        verdict = find_verdict(context.scene, keep_document(context.scene), self.number)
        if verdict is None:
            raise SkeletonError("verdict", NOT_COUNTING, "audit it again")
        return choose_way(verdict, self.way) if self.way else verdict

    def ask(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str] | None:
        if self.properties.is_property_set("reason"):
            return None
        try:
            verdict = self.take_verdict(context)
        except SkeletonError as error:
            report_error(self, error)
            return {"CANCELLED"}
        values = {"elements": " – ".join(verdict.elements), "way": tell(self.way)}
        title = say("Put Right: {elements}, {way}" if self.way else "Put Right: {elements}", **values)
        return context.window_manager.invoke_props_dialog(self, title=title, width=DIALOG_PX)

    def draw(self, context: bpy.types.Context) -> None:
        verdict = find_verdict(context.scene, keep_document(context.scene), self.number)
        if verdict is not None:
            show_evidence(self.layout, word_verdict(verdict, self.number))
        self.layout.prop(self, "reason")

    def answers(self) -> dict[str, Any]:
        return {"number": self.number, "way": self.way, "reason": self.reason}

    def prepare(self, context: bpy.types.Context) -> Calculation:
        kept, verdict = keep_document(context.scene), self.take_verdict(context)
        told = draft_record(context.scene, self.require_reason())
        if verdict.fault == "exchanged":
            require_proxies(context.scene, verdict.elements)
        folder = locate_mesh_folder(kept.document, text_path(context.scene.counterpoise.document))
        self.digest = kept.digest
        given = (kept.document, folder, verdict, told, proxy_triangles(), open_own_cache())
        return partial(put_verdict_right, *given)


class COUNTERPOISE_OT_put_back(Corrects, bpy.types.Operator):
    """Take the last correction that still counts back: as it was mounted, joints found anew. The record stays"""

    bl_idname = "counterpoise.put_back"
    bl_label = "Put Back"

    reason: bpy.props.StringProperty(name="Reason", description=REASON, options=AS_GIVEN)

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        lack = super().name_lack(context)
        return lack or ("" if last_title(context.scene) else "Nothing was put right that could be put back")

    def ask(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str] | None:
        if self.properties.is_property_set("reason"):
            return None
        return context.window_manager.invoke_props_dialog(self, title="Put Back", width=DIALOG_PX)

    def draw(self, context: bpy.types.Context) -> None:
        write_lines(self.layout, tell(last_title(context.scene)))
        self.layout.prop(self, "reason")

    def answers(self) -> dict[str, Any]:
        return {"reason": self.reason}

    def prepare(self, context: bpy.types.Context) -> Calculation:
        kept = keep_document(context.scene)
        told = draft_record(context.scene, self.require_reason())
        record = last_correction(kept.document)
        if record is not None and record.action == "exchanged":
            require_proxies(context.scene, record.elements)
        folder = locate_mesh_folder(kept.document, text_path(context.scene.counterpoise.document))
        self.digest = kept.digest
        return partial(take_back, kept.document, folder, told, open_own_cache())


def show_evidence(layout: bpy.types.UILayout, verdict: VerdictFigure) -> None:
    """What the audit said, and the figures of every way it tried."""
    write_lines(layout, tell(verdict.what))
    for i, (way, score) in enumerate(verdict.ways):
        row = layout.row()
        row.label(text=tell(way))
        score_cell = row.row()
        score_cell.alignment = "RIGHT"
        score_cell.label(text=score)
        told = [f"{tell(name)} {values[i]}" for name, values in verdict.table if values[i] != NONE]
        write_lines(layout, "; ".join(told), "BLANK1")


def write_lines(layout: bpy.types.UILayout, text: str, icon: str = "NONE") -> None:
    """A text over as many lines as a dialog's width needs."""
    column = layout.column(align=True)
    column.scale_y = 0.8
    for line in textwrap.wrap(text, int(DIALOG_PX / LETTER_PX) - (3 if icon == "NONE" else 6)):
        column.label(text=line, icon=icon)


CLASSES = (COUNTERPOISE_OT_put_right, COUNTERPOISE_OT_put_back)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
