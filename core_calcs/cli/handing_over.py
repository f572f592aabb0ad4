"""What `counterpoise handover` and `counterpoise ranges` do."""

from __future__ import annotations

from pathlib import Path

from ..document.reading import read_document
from ..handover.handover_set import write_handover
from ..handover.range_set import write_ranges
from .terminal import Terminal


def run_handover(terminal: Terminal, document_path: Path, folder: Path, pose_names: tuple[str, ...]) -> None:
    """Write the hand-over of poses, all of them where none is named."""
    document = read_document(document_path)
    with terminal.show_progress() as progress:
        written = write_handover(document, document_path, folder, pose_names or None, progress)
    _show_files(terminal, written)


def run_ranges(terminal: Terminal, document_path: Path, folder: Path, pose_names: tuple[str, ...]) -> None:
    """Write the range report of a document, with all of its poses where none is named."""
    document = read_document(document_path)
    with terminal.show_progress() as progress:
        written = write_ranges(document, folder, pose_names or None, progress)
    _show_files(terminal, written)


def _show_files(terminal: Terminal, folder: Path) -> None:
    files = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    size = sum((folder / file).stat().st_size for file in files)
    terminal.show_line(f"{folder}: {len(files)} files, {size / 1e6:.1f} MB")
    terminal.show_result({"folder": str(folder), "files": files})
