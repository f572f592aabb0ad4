"""Which mesh files are still as the document recorded them."""

from __future__ import annotations

import dataclasses
import hashlib
from pathlib import Path, PureWindowsPath

import pytest

from core_calcs.document.document import SkeletonDocument
from core_calcs.document.meshes import (
    check_meshes,
    list_few,
    list_missing,
    locate_mesh_folder,
    relate_mesh_folder,
    require_meshes,
)
from core_calcs.spatial.errors import DocumentError


def _give_meshes(document: SkeletonDocument, folder: Path) -> SkeletonDocument:
    """The document with the SHA-256 of files written into the folder."""
    elements = []
    for element in document.skeleton.elements:
        path = folder / element.source.file
        path.parent.mkdir(exist_ok=True, parents=True)
        path.write_bytes(element.name.encode())
        sha256 = hashlib.sha256(element.name.encode()).hexdigest()
        elements.append(dataclasses.replace(element, source=dataclasses.replace(element.source, sha256=sha256)))
    return dataclasses.replace(document, skeleton=dataclasses.replace(document.skeleton, elements=tuple(elements)))


def test_changed_and_missing_files_are_named(document, tmp_path):
    document = _give_meshes(document, tmp_path / "meshes")
    path = tmp_path / "mount" / "skeleton.json"
    path.parent.mkdir()
    assert {check.state for check in check_meshes(document, path)} == {"as recorded"}
    scans = tmp_path / "meshes" / "scans"
    (scans / "caudal 1.stl").write_bytes(b"scanned again")
    (scans / "caudal 2.stl").unlink()
    done: list[float] = []
    checks = check_meshes(document, path, lambda _, share: done.append(share))
    assert {str(check) for check in checks if check.state != "as recorded"} == {
        "scans/caudal 1.stl: changed",
        "scans/caudal 2.stl: missing",
    }
    assert [check.elements for check in checks if check.state == "changed"] == [("caudal 1",)]
    assert done == [0.0, 0.25, 0.5, 0.75]


def test_a_folder_with_the_same_files_is_taken(document, tmp_path):
    document = _give_meshes(document, tmp_path / "elsewhere")
    require_meshes(document, tmp_path / "elsewhere")
    assert list_missing(document, tmp_path / "elsewhere") == ()


def test_a_folder_with_other_files_is_refused_by_name(document, tmp_path):
    document = _give_meshes(document, tmp_path)
    (tmp_path / "scans" / "caudal 1.stl").write_bytes(b"scanned again")
    (tmp_path / "scans" / "caudal 2.stl").unlink()
    assert list_missing(document, tmp_path) == ("scans/caudal 2.stl",)
    with pytest.raises(DocumentError) as caught:
        require_meshes(document, tmp_path)
    assert "does not hold scans/caudal 2.stl" in caught.value.what
    assert "its scans/caudal 1.stl are not the files" in caught.value.what


def test_many_names_are_counted():
    assert list_few(["a", "b"]) == "a, b"
    assert list_few(list("abcdefg")) == "a, b, c, d, e and 2 more"


def test_the_folder_is_kept_relative_to_the_document(document, tmp_path, monkeypatch):
    path = tmp_path / "mount" / "skeleton.json"
    path.parent.mkdir()
    assert relate_mesh_folder(tmp_path / "meshes", path) == "../meshes"
    assert relate_mesh_folder(tmp_path / "mount", path) == "."
    assert locate_mesh_folder(document, path).resolve() == (tmp_path / "meshes").resolve()
    monkeypatch.chdir(tmp_path)
    assert relate_mesh_folder(Path("meshes"), Path("skeleton.json")) == "meshes"


def test_another_drive_is_a_plain_error(monkeypatch):
    def refuse(path: str, start: str) -> str:
        raise ValueError("path is on mount 'D:', start on mount 'C:'")

    monkeypatch.setattr("os.path.relpath", refuse)
    with pytest.raises(DocumentError, match="on another drive"):
        relate_mesh_folder(Path("meshes"), Path("skeleton.json"))


def test_backslashes_of_windows_become_forward_slashes(monkeypatch):
    monkeypatch.setattr("os.path.relpath", lambda path, start: "..\\scans\\left")
    monkeypatch.setattr("core_calcs.document.meshes.PurePath", PureWindowsPath)
    assert relate_mesh_folder(Path("meshes"), Path("skeleton.json")) == "../scans/left"
