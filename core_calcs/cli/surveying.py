"""What `counterpoise survey` does."""

from __future__ import annotations

from pathlib import Path

from ..handover.tables import plain_value
from ..inspection.inspection import inspect
from ..skeleton.proposal import propose_table
from ..skeleton.table import read_table, write_table
from ..skeleton.table_check import check_table
from ..studies.inventory import read_expected
from ..studies.problems import list_contradictions, list_count_problems, list_findings
from ..studies.survey import survey_folder
from .survey_text import inspection_tree, problem_tree, series_tree, show_files, show_problems, show_series, survey_tree
from .terminal import Terminal


def run_survey(
    terminal: Terminal, folder: Path, unit: str, table_path: Path | None, propose_again: bool, expected: str = ""
) -> None:
    """Survey a folder; check the table against it, or propose one; hold the elements against each other.

    A table that does not fit the files is refused at the end, when everything has been shown.
    """
    wanted = read_expected(expected)
    given = read_table(table_path) if table_path is not None and table_path.exists() and not propose_again else ()
    with terminal.show_progress() as progress:
        survey = survey_folder(folder, unit, progress, {row.file: row.unit for row in given})
    show_files(terminal, survey)
    rows = given or propose_table(survey)
    if table_path is not None and not given:
        write_table(table_path, rows)
    inspection = inspect(rows, survey)
    show_series(terminal, rows, inspection)
    refused = list_contradictions(rows, survey) if given else ()
    problems = (*list_findings(inspection, rows), *refused, *list_count_problems(rows, wanted))
    show_problems(terminal, problems)
    if given:
        check_table(given, survey)
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
            **inspection_tree(inspection),
            "problems": problem_tree(problems),
            "table": {
                "path": None if table_path is None else str(table_path),
                "state": state,
                "rows": plain_value(rows),
            },
        }
    )
