"""What `counterpoise handover`, `counterpoise compare` and `counterpoise ranges` do."""

from __future__ import annotations

from pathlib import Path

from ..document.editing import find_pose
from ..document.reading import read_document
from ..handover.comparison_page import write_poses_page
from ..handover.handover_set import write_handover
from ..handover.range_lines import PoseLine, list_poses
from ..handover.range_set import write_ranges
from ..studies.ranges import list_ranges
from .terminal import Terminal


def run_handover(terminal: Terminal, document_path: Path, folder: Path, pose_names: tuple[str, ...]) -> None:
    """Write the hand-over of poses, all of them where none is named."""
    document = read_document(document_path)
    with terminal.show_progress() as progress:
        written = write_handover(document, document_path, folder, pose_names or None, progress)
    _show_files(terminal, written)


def run_compare(terminal: Terminal, document_path: Path, page: Path, pose_names: tuple[str, ...]) -> None:
    """Write the page that holds poses beside each other, all of them where none is named."""
    document = read_document(document_path)
    with terminal.show_progress() as progress:
        written, missing = write_poses_page(document, document_path, page, pose_names, progress)
    if missing:
        terminal.show_line(f"missing, so not in the pictures: {', '.join(missing)}")
    terminal.show_line(f"{written}: {written.stat().st_size / 1e6:.1f} MB")
    terminal.show_result({"page": str(written), "missing": list(missing)})


def run_ranges(terminal: Terminal, document_path: Path, folder: Path, pose_names: tuple[str, ...]) -> None:
    """Write the range report of a document, with all of its poses where none is named."""
    document = read_document(document_path)
    with terminal.show_progress() as progress:
        written = write_ranges(document, folder, pose_names or None, progress)
    poses = [find_pose(document, name) for name in dict.fromkeys(pose_names)] if pose_names else document.poses
    heads = ("pose", "turned", "inside", "at an end", "outside", "not known", "farthest from neutral, or outside")
    lines = list_poses(list_ranges(document.skeleton, poses), poses)
    terminal.show_table(heads, [_make_row(line) for line in lines], right=(1, 2, 3, 4, 5))
    terminal.show_line()
    _show_files(terminal, written)


def _make_row(line: PoseLine) -> tuple[str, ...]:
    counts = (line.turned, line.inside, line.close, line.outside, line.unknown)
    return (f"{line.mark.symbol} {line.pose}", *map(str, counts), line.farthest)


def _show_files(terminal: Terminal, folder: Path) -> None:
    files = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    size = sum((folder / file).stat().st_size for file in files)
    terminal.show_line(f"{folder}: {len(files)} files, {size / 1e6:.1f} MB")
    terminal.show_result({"folder": str(folder), "files": files})
