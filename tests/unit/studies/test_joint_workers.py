"""Joints looked for by several workers: the same as by one; stopped at once; what a worker lacks is done here."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import trimesh

from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import document_to_text
from core_calcs.mesh.records import Survey
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.skeleton.table import TableRow
from core_calcs.spatial.errors import Cancelled, MeshFileError
from core_calcs.spatial.progress import Progress, ignore_progress
from core_calcs.studies import joint_workers
from core_calcs.studies.articulate import articulate
from core_calcs.studies.joint_cache import JointCache
from core_calcs.studies.survey import survey_folder

COUNT = 10
ROWS = tuple(
    TableRow(
        f"d{k}.stl", None, "m", f"D{k}", "dorsal", k, "middle", f"D{k - 1}" if k > 1 else "",
        "column" if k > 1 else "root", "", "not known",
    )
    for k in range(1, COUNT + 1)
)  # fmt: skip
QUICK = LimitSettings(search_rad=0.05)


@pytest.fixture(scope="module")
def folder(shapes: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ten vertebrae of boxes; the first three face each other, the others stand too far apart."""
    path = tmp_path_factory.mktemp("column")
    for k in range(1, COUNT + 1):
        x = -k if k <= 3 else -4 * k
        surface = shapes.make_box((0.9, 0.8, 0.6 + 0.01 * k), (x, 0, 3))
        trimesh.Trimesh(surface.vertices, surface.faces, process=False).export(path / f"d{k}.stl")
    return path


@pytest.fixture(scope="module")
def survey(folder: Path) -> Survey:
    return survey_folder(folder, "m")


@pytest.fixture(scope="module")
def make(folder: Path, survey: Survey) -> Callable[..., str]:
    """The document of the column, as text: every bit of every number."""

    def make_document(
        workers: int,
        cache: JointCache | None = None,
        progress: Progress = ignore_progress,
        settings: LimitSettings = QUICK,
    ) -> str:
        skeleton = articulate(ROWS, survey, folder, "column", settings, progress, cache=cache, workers=workers)
        return document_to_text(SkeletonDocument(skeleton, (), default_build(), Site(), "."))

    return make_document


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a cache that has the joints once `alone` has found them."""
    return tmp_path_factory.mktemp("joints")


@pytest.fixture(scope="module")
def alone(make: Callable[..., str], filled: Path) -> str:
    return make(1, JointCache(filled))


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[subprocess.Popen[str]]:
    """The workers that are started."""
    processes: list[subprocess.Popen[str]] = []
    begin = subprocess.Popen

    def start(*given: Any, **named: Any) -> subprocess.Popen[str]:
        processes.append(begin(*given, **named))
        return processes[-1]

    monkeypatch.setattr(joint_workers.subprocess, "Popen", start)
    return processes


def test_two_workers_find_what_one_finds_and_the_cache_gives_every_bit_back(
    make: Callable[..., str], alone: str, tmp_path: Path
) -> None:
    assert alone.count('"envelope": {') == 2
    told: list[tuple[str, float]] = []
    first, second = JointCache(tmp_path), JointCache(tmp_path)
    assert make(2, first, lambda doing, share: told.append((doing, share))) == alone
    assert any("9 joints, 2 at once" in doing for doing, _ in told)
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert 0 <= shares[0] <= shares[-1] <= 1
    assert (first.kept, first.searched) == (0, COUNT - 1)
    assert make(2, second) == alone
    assert (second.kept, second.searched) == (COUNT - 1, 0)


def test_other_settings_are_searched_for(make: Callable[..., str], alone: str, filled: Path) -> None:
    other = JointCache(filled)
    assert make(1, other, settings=replace(QUICK, search_rad=0.06)) != alone
    assert (other.kept, other.searched) == (0, COUNT - 1)


def test_what_was_found_before_a_stop_is_kept(make: Callable[..., str], alone: str, tmp_path: Path) -> None:
    def stop_later(_doing: str, share: float) -> None:
        if share > 0.5:
            raise Cancelled

    with pytest.raises(Cancelled):
        make(1, JointCache(tmp_path), stop_later)
    after = JointCache(tmp_path)
    assert make(1, after) == alone
    assert 0 < after.kept < COUNT - 1


def test_a_stop_ends_the_workers(make: Callable[..., str], started: list[subprocess.Popen[str]]) -> None:
    def stop(doing: str, _share: float) -> None:
        if "at once" in doing:
            raise Cancelled

    with pytest.raises(Cancelled):
        make(2, progress=stop)
    assert len(started) == 2
    assert all(process.poll() is not None for process in started)


@pytest.mark.parametrize("python", ["python of nowhere", "python that ends"])
def test_without_workers_the_same_is_found(
    make: Callable[..., str], alone: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, python: str
) -> None:
    """One that is not there, and one that ends at once without an answer."""
    path = tmp_path / python
    if python == "python that ends":
        path.write_text("#!/bin/sh\nexit 1\n", encoding="utf-8")
        path.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(path))
    assert make(2) == alone


def test_a_program_that_is_no_python_is_not_started(
    make: Callable[..., str], alone: str, started: list[subprocess.Popen[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where Blender finds no Python, what stands for it is Blender itself."""
    monkeypatch.setattr(sys, "executable", "/usr/bin/blender")
    assert make(2) == alone
    assert not started


def test_a_file_that_changed_meanwhile_is_named(folder: Path, survey: Survey) -> None:
    path = folder / "d7.stl"
    before = path.read_bytes()
    try:
        path.write_bytes(before[:40] + b"another one" + before[51:])
        with pytest.raises(MeshFileError, match=r"d7\.stl: it has changed since it was surveyed"):
            articulate(ROWS, survey, folder, "column", QUICK, workers=2)
    finally:
        path.write_bytes(before)
