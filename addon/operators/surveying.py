"""Looking at the scans, and the element table."""

from __future__ import annotations

import bpy

from ..bridge.survey_notes import NOTES, write_notes
from ..core_calcs.skeleton.proposal import propose_table
from ..core_calcs.skeleton.table import read_table, write_table
from ..core_calcs.skeleton.table_check import check_table
from ..core_calcs.studies.survey import survey_folder
from ..properties.paths import PATH_OPTIONS
from ..properties.settings import UNITS
from .step import Step, follow_progress, require_path

TABLE_NAME = "elements.csv"


class COUNTERPOISE_OT_survey_folder(Step, bpy.types.Operator):
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

    def work(self, context: bpy.types.Context) -> str:
        folder = require_path(self.folder, "folder of the scans")
        table = require_path(self.table_path, "element table") if self.table_path else folder / TABLE_NAME
        survey = survey_folder(folder, self.unit, follow_progress(context))
        known = table.exists() and not self.propose_anew
        rows = read_table(table) if known else propose_table(survey)
        check_table(rows, survey)
        if not known:
            write_table(table, rows)
        remarks = write_notes(survey, rows)
        settings = context.scene.counterpoise
        settings.mesh_folder, settings.unit, settings.table_path = str(folder), self.unit, str(table)
        kept = sum(row.attachment != "left out" for row in rows)
        told = f"{len(survey.files)} files, {kept} elements in {table.name} ({'checked' if known else 'proposed'})"
        return f"{told}, {remarks} remarks in the text block {NOTES}"


CLASSES = (COUNTERPOISE_OT_survey_folder,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
