"""What `counterpoise survey` does."""

from __future__ import annotations

from pathlib import Path

from ..handover.tables import plain_value
from ..skeleton.proposal import propose_table
from ..skeleton.table import read_table, write_table
from ..skeleton.table_check import check_table
from ..studies.survey import survey_folder
from .survey_text import series_tree, show_files, show_series, survey_tree
from .terminal import Terminal


def run_survey(terminal: Terminal, folder: Path, unit: str, table_path: Path | None, propose_again: bool) -> None:
    """Survey a folder; check the table against it, or propose one."""
    given = read_table(table_path) if table_path is not None and table_path.exists() and not propose_again else ()
    with terminal.show_progress() as progress:
        survey = survey_folder(folder, unit, progress, {row.file: row.unit for row in given})
    show_files(terminal, survey)
    if given:
        check_table(given, survey)
    rows = given or propose_table(survey)
    if table_path is not None and not given:
        write_table(table_path, rows)
    show_series(terminal, rows)
    if table_path is not None:
        told = "fits the files" if given else "written from names, places and sizes: check every row"
        terminal.show_line(f"{table_path}: {len(rows)} rows, {told}")
    state = "none" if table_path is None else "checked" if given else "written"
    terminal.show_result(
        {
            "folder": str(folder),
            "unit": unit,
            "files": survey_tree(survey),
            "series": series_tree(rows),
            "table": {
                "path": None if table_path is None else str(table_path),
                "state": state,
                "rows": plain_value(rows),
            },
        }
    )
