"""The range report as a folder: the page, its tables, the text for the public; alone or within a hand-over."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from .. import __version__
from ..document.document import SkeletonDocument
from ..document.editing import find_pose
from ..skeleton.pose import Pose
from ..spatial.progress import Progress
from ..studies.ranges import list_ranges
from .folders import check_replaceable, replace_folder
from .manifest import RANGES_SCHEMA, write_manifest
from .public_text import write_public_text
from .range_report import render_range_report
from .range_tables import tabulate_mounted, tabulate_ranges, tabulate_records, tabulate_uses
from .tables import write_table

PAGE, PUBLIC_TEXT = "ranges.html", "public-text.txt"


def write_ranges(
    document: SkeletonDocument, folder: Path, pose_names: Sequence[str] | None, progress: Progress
) -> Path:
    """Write the range report of a document into a folder of its own; no mesh file is read.

    The folder appears whole or not at all. One that is there already is replaced only where it is empty, or a range
    report with nothing added or changed.

    Parameters
    ----------
    pose_names : of the document's poses; None: all of them
    progress : may raise Cancelled: nothing is left behind then

    Returns
    -------
    The folder.

    Raises
    ------
    SkeletonError : there is no such pose
    OutputError : the folder may not be replaced, or cannot be written
    """
    check_replaceable(folder, RANGES_SCHEMA)
    poses = document.poses if pose_names is None else [find_pose(document, name) for name in dict.fromkeys(pose_names)]
    made = datetime.now(UTC).replace(microsecond=0)
    with replace_folder(folder, RANGES_SCHEMA) as beside:
        progress("drawing the ranges", 0.1)
        write_range_files(document, poses, beside, made)
        progress("writing the manifest", 0.9)
        facts = {
            "program": "Counterpoise",
            "program_version": __version__,
            "made_utc": made.isoformat().replace("+00:00", "Z"),
            "skeleton": document.skeleton.name,
            "poses": [pose.name for pose in poses],
        }
        write_manifest(beside, facts, RANGES_SCHEMA)
        progress("putting the folder in its place", 1.0)
    return folder


def write_range_files(document: SkeletonDocument, poses: Sequence[Pose], folder: Path, made: datetime) -> None:
    """Write page, tables and text into a folder that is there."""
    table = list_ranges(document.skeleton, poses)
    page = render_range_report(document, poses, table, made)
    (folder / PAGE).write_text(page, encoding="utf-8", newline="\n")
    for own in (
        tabulate_ranges(table),
        tabulate_uses(table),
        tabulate_records(document.records),
        tabulate_mounted(document.skeleton, poses),
    ):
        write_table(folder, own)
    (folder / PUBLIC_TEXT).write_text(write_public_text(document, table), encoding="utf-8", newline="\n")
