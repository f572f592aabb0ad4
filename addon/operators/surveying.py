"""Looking at the scans, and the element table."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import ClassVar

import bpy

from ..bridge.calculations import SurveyedScans, survey_scans
from ..bridge.element_list import fill_list, require_written, write_found
from ..bridge.long_work import Calculation
from ..bridge.survey_notes import write_notes
from ..core_calcs.skeleton.table import hash_table, write_table
from ..core_calcs.spatial.errors import TableError
from ..core_calcs.studies.inventory import read_expected
from ..properties.paths import PATH_OPTIONS
from ..properties.settings import UNITS
from ..translations.phrases import look_up, say
from .long_step import AsksFirst
from .step import require_path

TABLE_NAME = "elements.csv"
PROPOSED = (
    "{files} files, {elements} elements in {table} (proposed), {problems} problems. "
    "Look through the elements, then build"
)
CHECKED = (
    "{files} files, {elements} elements in {table} (checked), {problems} problems. "
    "Look through the elements, then build"
)


class COUNTERPOISE_OT_survey_folder(AsksFirst, bpy.types.Operator):
    """Look at every mesh file. A first element table is proposed; one that is there already is checked, not changed"""

    bl_idname = "counterpoise.survey_folder"
    bl_label = "Survey the Scans"

    folder: bpy.props.StringProperty(
        name="Folder", description="Folder of the mesh files", subtype="DIR_PATH", options=PATH_OPTIONS
    )
    unit: bpy.props.EnumProperty(name="Unit", description="Unit of the files", items=UNITS, default="mm")
    table_path: bpy.props.StringProperty(
        name="Table",
        description="Element table; empty: elements.csv in the folder",
        subtype="FILE_PATH",
        options=PATH_OPTIONS,
    )
    expected: bpy.props.StringProperty(
        name="Expected", description="Counts that there should be, e.g. caudal=44, rib=24; empty: none are known"
    )
    propose_anew: bpy.props.BoolProperty(
        name="Propose Anew",
        description="Replace the table that is there by a new proposal",
        default=False,
        options={"SKIP_SAVE"},
    )
    sure: bpy.props.BoolProperty(
        name="Sure", description="Do not ask before a table is replaced", default=False, options={"HIDDEN", "SKIP_SAVE"}
    )

    from_scene: ClassVar = {
        **{"folder": "mesh_folder", "unit": "unit"},
        **{"table_path": "table_path", "expected": "expected"},
    }

    @classmethod
    def description(cls, _context: bpy.types.Context, properties: bpy.types.OperatorProperties) -> str:
        anew = look_up("Survey the scans and replace the table by a new proposal: everything written in it is lost")
        return anew if properties.propose_anew else ""

    def ask(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str] | None:
        if not self.propose_anew or self.sure:
            return None
        return context.window_manager.invoke_confirm(
            self,
            event,
            title="Propose the Table Anew?",
            message="Every row of the table that is there is replaced by a proposal from the files' names and places.",
            confirm_text="Propose",
            icon="WARNING",
        )

    def answers(self) -> dict[str, object]:
        given = {name: getattr(self, name) for name in ("folder", "unit", "table_path", "expected", "propose_anew")}
        return {**given, "sure": True}

    def prepare(self, context: bpy.types.Context) -> Calculation:
        folder, table = self.find_places()
        read_expected(self.expected)
        self.edited = context.scene.counterpoise.table_edited
        if not self.propose_anew:
            require_written(context.scene.counterpoise, table)
        return partial(survey_scans, folder, self.unit, table, self.propose_anew)

    def finish(self, context: bpy.types.Context, found: SurveyedScans) -> str:
        folder, table = self.find_places()
        settings = context.scene.counterpoise
        if not self.edited:
            require_written(settings, table)  # edited meanwhile
        digest = found.digest
        if hash_table(table) != digest:
            raise TableError(table.name, "it was changed during the survey", "survey again")
        if found.proposed:
            write_table(table, found.rows)
            digest = hash_table(table)
        settings.mesh_folder, settings.unit, settings.table_path = str(folder), self.unit, str(table)
        settings.expected = self.expected
        of_rows = [write_found(problems) for problems in found.found]
        fill_list(settings, found.rows, found.meshes, of_rows, table, digest, found.unnamed)
        problems = [_tell(problem) for problem in settings.problems]
        write_notes(found.survey, found.rows, problems)
        kept = sum(row.attachment != "left out" for row in found.rows)
        values = {"files": len(found.survey.files), "elements": kept, "table": table.name, "problems": len(problems)}
        return say(PROPOSED if found.proposed else CHECKED, **values)

    def find_places(self) -> tuple[Path, Path]:
        """Mesh folder and table."""
        folder = require_path(self.folder, "folder of the scans")
        return folder, require_path(self.table_path, "element table") if self.table_path else folder / TABLE_NAME


def _tell(problem: bpy.types.PropertyGroup) -> str:
    """A problem's text with what to do about it."""
    return f"{problem.name}. {problem.remedy[:1].upper()}{problem.remedy[1:]}." if problem.remedy else problem.name


CLASSES = (COUNTERPOISE_OT_survey_folder,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
