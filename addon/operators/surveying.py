"""Looking at the scans, and the element table."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import bpy

from ..bridge.calculations import SurveyedScans, survey_scans
from ..bridge.element_list import fill_list, require_written
from ..bridge.long_work import Calculation
from ..bridge.survey_notes import write_notes
from ..core_calcs.skeleton.table import hash_table, write_table
from ..core_calcs.spatial.errors import TableError
from ..properties.paths import PATH_OPTIONS
from ..properties.settings import UNITS
from .long_step import LongStep
from .step import require_path

TABLE_NAME = "elements.csv"


class COUNTERPOISE_OT_survey_folder(LongStep, bpy.types.Operator):
    """Look at every mesh file. A first element table is proposed; one that is there already is checked, not changed"""

    bl_idname = "counterpoise.survey_folder"
    bl_label = "Survey the Scans"

    folder: bpy.props.StringProperty(
        name="Folder", description="Folder of the mesh files", subtype="DIR_PATH", options=PATH_OPTIONS
    )
    unit: bpy.props.EnumProperty(name="Unit", description="Unit of the files", items=UNITS, default="mm")
    table_path: bpy.props.StringProperty(
        name="Table",
        description=f"Element table; empty: {TABLE_NAME} in the folder",
        subtype="FILE_PATH",
        options=PATH_OPTIONS,
    )
    propose_anew: bpy.props.BoolProperty(
        name="Propose Anew", description="Replace the table that is there by a new proposal", default=False
    )

    def prepare(self, context: bpy.types.Context) -> Calculation:
        folder, table = self.find_places()
        require_written(context.scene.counterpoise, table)
        return partial(survey_scans, folder, self.unit, table, self.propose_anew)

    def finish(self, context: bpy.types.Context, found: SurveyedScans) -> str:
        folder, table = self.find_places()
        settings = context.scene.counterpoise
        digest = found.digest
        if hash_table(table) != digest:
            raise TableError(table.name, "it was changed during the survey", "survey again")
        if found.proposed:
            write_table(table, found.rows)
            digest = hash_table(table)
        settings.mesh_folder, settings.unit, settings.table_path = str(folder), self.unit, str(table)
        settings.unnamed_files = "\n".join(found.unnamed)
        fill_list(settings, found.rows, found.meshes, table, digest)
        problems = [problem.name for problem in settings.problems]
        write_notes(found.survey, found.rows, problems)
        kept = sum(row.attachment != "left out" for row in found.rows)
        state = "proposed" if found.proposed else "checked"
        told = f"{len(found.survey.files)} files, {kept} elements in {table.name} ({state})"
        return f"{told}, {len(problems)} problems. Look through the elements, then build"

    def find_places(self) -> tuple[Path, Path]:
        """Mesh folder and table."""
        folder = require_path(self.folder, "folder of the scans")
        return folder, require_path(self.table_path, "element table") if self.table_path else folder / TABLE_NAME


CLASSES = (COUNTERPOISE_OT_survey_folder,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
