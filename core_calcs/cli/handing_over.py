"""What `counterpoise handover` does."""

from __future__ import annotations

from pathlib import Path

from ..document.reading import read_document
from ..handover.handover_set import write_handover
from .terminal import Terminal


def run_handover(terminal: Terminal, document_path: Path, folder: Path, pose_names: tuple[str, ...]) -> None:
    """Write the hand-over of poses, all of them where none is named."""
    document = read_document(document_path)
    with terminal.show_progress() as progress:
        written = write_handover(document, document_path, folder, pose_names or None, progress)
    files = sorted(path.relative_to(written).as_posix() for path in written.rglob("*") if path.is_file())
    size = sum((written / file).stat().st_size for file in files)
    terminal.show_line(f"{written}: {len(files)} files, {size / 1e6:.1f} MB")
    terminal.show_result({"folder": str(written), "files": files})
