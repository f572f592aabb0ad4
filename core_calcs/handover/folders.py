"""A folder that appears whole or not at all, and replaces an older one without losing anybody's work."""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..spatial.errors import OutputError
from .manifest import SCHEMA, find_foreign_file


@contextmanager
def replace_folder(folder: Path, schema: str = SCHEMA) -> Iterator[Path]:
    """Give an empty folder to write into; when the block ends without error it becomes `folder`.

    It is written beside `folder` under a temporary name. A folder that is there already is moved aside and removed
    last; it must be empty, or what the schema says (a hand-over, a range report) just as it was written. On any error,
    Cancelled and KeyboardInterrupt included, what was there before is there again and nothing else.

    Raises
    ------
    OutputError : the folder may not be replaced, or cannot be written
    """
    folder = Path(os.path.abspath(folder))
    check_replaceable(folder, schema)
    beside = _name_beside(folder)
    try:
        beside.mkdir()
        yield beside
        check_replaceable(folder, schema)
        _swap(beside, folder)
    except OSError as error:
        raise _refuse(folder, error) from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def check_writable(folder: Path) -> None:
    """Refuse a place where nothing can be written, before long work for it begins: a folder is made there and removed.

    Raises
    ------
    OutputError : none can be made
    """
    beside = _name_beside(Path(os.path.abspath(folder)))
    try:
        beside.mkdir()
        beside.rmdir()
    except OSError as error:
        raise _refuse(folder, error) from error


def check_replaceable(folder: Path, schema: str = SCHEMA) -> None:
    """Refuse a folder that is somebody's.

    Raises
    ------
    OutputError : its parent is not there; it is a file or link; it holds anything but an untouched one of its kind
    """
    other = "choose another folder, or move it away"
    if not folder.parent.is_dir():
        raise OutputError(str(folder), "the folder it should be in is not there", "make that folder first")
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise OutputError(str(folder), "something that is not a folder has this name", other)
    if folder.is_dir() and any(folder.iterdir()):
        reason = find_foreign_file(folder, schema)
        if reason:
            raise OutputError(str(folder), f"it exists already and is not replaced: {reason}", other)


def _name_beside(folder: Path) -> Path:
    return folder.with_name(f".{folder.name[:60]}.{secrets.token_hex(4)}.part")


def _refuse(folder: Path, error: OSError) -> OutputError:
    return OutputError(str(folder), f"it could not be written ({error})", "make room, or choose another")


def _swap(beside: Path, folder: Path) -> None:
    """Put the new folder in the place of the old: two renames, the first undone if the second fails."""
    if not folder.exists():
        beside.rename(folder)
        return
    aside = beside.with_suffix(".old")
    folder.rename(aside)
    try:
        beside.rename(folder)
    except BaseException:
        aside.rename(folder)
        raise
    shutil.rmtree(aside, ignore_errors=True)
