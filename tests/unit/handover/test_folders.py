"""A folder that appears whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from core_calcs.handover.folders import replace_folder
from core_calcs.handover.manifest import write_manifest
from core_calcs.spatial.errors import Cancelled, OutputError


def write_set(folder: Path, text: str) -> None:
    with replace_folder(folder) as beside:
        (beside / "a.txt").write_text(text, encoding="utf-8")
        write_manifest(beside, {"made": "for a test"})


def write_half_a_set(folder: Path, error: BaseException) -> None:
    with replace_folder(folder) as beside:
        (beside / "b.txt").write_text("half", encoding="utf-8")
        raise error


def test_written_and_replaced(tmp_path: Path) -> None:
    write_set(tmp_path / "out", "one")
    write_set(tmp_path / "out", "two")
    assert (tmp_path / "out" / "a.txt").read_text(encoding="utf-8") == "two"
    assert os.listdir(tmp_path) == ["out"]


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    write_set(tmp_path / "out", "one")
    assert (tmp_path / "out" / "a.txt").exists()


@pytest.mark.parametrize("error", [Cancelled(), KeyboardInterrupt(), ValueError("x"), OutputError("a", "b", "c")])
def test_nothing_is_left_after_an_error(tmp_path: Path, error: BaseException) -> None:
    write_set(tmp_path / "out", "one")
    with pytest.raises(type(error)):
        write_half_a_set(tmp_path / "out", error)
    assert os.listdir(tmp_path) == ["out"]
    assert (tmp_path / "out" / "a.txt").read_text(encoding="utf-8") == "one"


def test_a_full_disk_is_a_plain_error(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="No space left"), replace_folder(tmp_path / "out"):
        raise OSError(28, "No space left on device")
    assert os.listdir(tmp_path) == []


def foreign_file(out: Path) -> None:
    out.mkdir()
    (out / "thesis.txt").write_text("years of work", encoding="utf-8")


def foreign_manifest(out: Path) -> None:
    out.mkdir()
    (out / "manifest.json").write_text('{"name": "a web page"}', encoding="utf-8")


def added_file(out: Path) -> None:
    write_set(out, "one")
    (out / "notes.txt").write_text("mine", encoding="utf-8")


def changed_file(out: Path) -> None:
    write_set(out, "one")
    (out / "a.txt").write_text("my remarks", encoding="utf-8")


def plain_file(out: Path) -> None:
    out.write_text("a file", encoding="utf-8")


@pytest.mark.parametrize("make", [foreign_file, foreign_manifest, added_file, changed_file, plain_file])
def test_what_is_somebody_elses_is_refused(tmp_path: Path, make) -> None:  # type: ignore[no-untyped-def]
    out = tmp_path / "out"
    make(out)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    with pytest.raises(OutputError, match="out"), replace_folder(out):
        pytest.fail("the folder was given out")
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_a_file_put_in_meanwhile_is_not_lost(tmp_path: Path) -> None:
    out = tmp_path / "out"
    write_set(out, "one")
    with pytest.raises(OutputError, match=r"notes\.txt"), replace_folder(out):
        (out / "notes.txt").write_text("mine", encoding="utf-8")
    assert (out / "notes.txt").read_text(encoding="utf-8") == "mine"


def test_litter_of_the_operating_system_does_not_count(tmp_path: Path) -> None:
    write_set(tmp_path / "out", "one")
    (tmp_path / "out" / ".DS_Store").write_bytes(b"x")
    write_set(tmp_path / "out", "two")
    assert (tmp_path / "out" / "a.txt").read_text(encoding="utf-8") == "two"


def test_the_parent_has_to_be_there(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"(?i)make that folder"), replace_folder(tmp_path / "a" / "out"):
        pytest.fail("the folder was given out")


def test_the_old_one_comes_back_when_the_new_cannot_take_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    write_set(out, "one")
    rename = Path.rename

    def refuse(self: Path, target: Path) -> Path:
        if self.suffix == ".part" and target == out:
            raise PermissionError(13, "held open by another program")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", refuse)
    with pytest.raises(OutputError, match="held open"):
        write_set(out, "two")
    assert (out / "a.txt").read_text(encoding="utf-8") == "one"
    assert os.listdir(tmp_path) == ["out"]
