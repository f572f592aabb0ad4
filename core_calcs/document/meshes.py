"""The mesh files that a document speaks of: where they are, and whether they are still the same."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Literal

from ..skeleton.element import Element
from ..spatial.errors import DocumentError
from ..spatial.progress import Progress, ignore_progress
from .document import SkeletonDocument

MeshFileState = Literal["as recorded", "changed", "missing"]


@dataclass(frozen=True)
class MeshFileCheck:
    """What became of one mesh file.

    file : relative to the mesh folder
    elements : names of the elements that come from it
    """

    file: str
    state: MeshFileState
    elements: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.file}: {self.state}"


def locate_mesh_folder(document: SkeletonDocument, document_path: Path) -> Path:
    """The folder that the elements' files are relative to."""
    return document_path.absolute().parent / document.mesh_folder


def relate_mesh_folder(mesh_folder: Path, document_path: Path) -> str:
    """The mesh folder as a document at that path keeps it: relative, with forward slashes.

    Raises
    ------
    DocumentError : the two are on different drives, so that no relative path leads from one to the other
    """
    try:
        relative = os.path.relpath(mesh_folder.absolute(), document_path.absolute().parent)
    except ValueError as error:
        raise DocumentError(
            str(document_path), f"it is on another drive than {mesh_folder}", "keep document and meshes on one drive"
        ) from error
    return PurePath(relative).as_posix()


def check_meshes(
    document: SkeletonDocument, document_path: Path, progress: Progress = ignore_progress
) -> list[MeshFileCheck]:
    """Compare every mesh file with its recorded SHA-256; one answer a file, in the order of the elements."""
    return check_folder(document, locate_mesh_folder(document, document_path), progress)


def check_folder(document: SkeletonDocument, folder: Path, progress: Progress = ignore_progress) -> list[MeshFileCheck]:
    """Compare the files of a folder with the recorded SHA-256, whether or not the document takes its meshes there."""
    return _check_files(document.skeleton.elements, folder, progress)


def _check_files(chosen: Sequence[Element], folder: Path, progress: Progress) -> list[MeshFileCheck]:
    wanted: dict[str, str] = {}
    elements: dict[str, list[str]] = {}
    for element in chosen:
        wanted[element.source.file] = element.source.sha256
        elements.setdefault(element.source.file, []).append(element.name)
    checks = []
    for i, (file, sha256) in enumerate(wanted.items()):
        progress(f"checking {file}", i / len(wanted))
        checks.append(MeshFileCheck(file, _check_file(folder / file, sha256), tuple(elements[file])))
    return checks


def require_meshes(document: SkeletonDocument, folder: Path, progress: Progress = ignore_progress) -> None:
    """Refuse a folder that does not hold every mesh file of a document, each as it was recorded.

    Raises
    ------
    DocumentError : with the names of the files that are missing, and of those that are others
    """
    require_files(document.skeleton.elements, folder, progress)


def require_files(elements: Sequence[Element], folder: Path, progress: Progress = ignore_progress) -> None:
    """The same for the files of some elements alone; DocumentError as there."""
    checks = _check_files(elements, folder, progress)
    told = {
        "missing": "it does not hold {}",
        "changed": "its {} are not the files that the skeleton was made from",
    }
    wrong = {state: [check.file for check in checks if check.state == state] for state in told}
    if any(wrong.values()):
        what = "; ".join(told[state].format(list_few(files)) for state, files in wrong.items() if files)
        raise DocumentError(str(folder), what, "choose the folder of the files that the skeleton was made from")


def list_missing(document: SkeletonDocument, folder: Path) -> tuple[str, ...]:
    """The mesh files that are not there, without a look into those that are."""
    files = dict.fromkeys(element.source.file for element in document.skeleton.elements)
    return tuple(file for file in files if not (folder / file).is_file())


def list_few(names: Sequence[str], few: int = 5) -> str:
    """Names in a sentence, no more than a few: the rest is counted."""
    rest = len(names) - few
    return ", ".join(names[:few]) + (f" and {rest} more" if rest > 0 else "")


def _check_file(path: Path, sha256: str) -> MeshFileState:
    try:
        with path.open("rb") as file:
            found = hashlib.file_digest(file, "sha256").hexdigest()
    except (FileNotFoundError, NotADirectoryError, IsADirectoryError):
        return "missing"
    except OSError as error:
        raise DocumentError(str(path), f"it cannot be read: {error.strerror or error}", "check the file") from error
    return "as recorded" if found == sha256 else "changed"
