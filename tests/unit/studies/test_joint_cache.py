"""Joints kept by content: whole or not there, never another's, never stale, bounded in size."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from core_calcs.document.structure import unstructure_value
from core_calcs.skeleton.joint import Envelope, Joint, LimitSettings
from core_calcs.studies import joint_cache
from core_calcs.studies.joint_cache import VARIABLE, JointCache, name_method, name_search, open_cache
from core_calcs.studies.joint_search import JointSearch, SearchedEnd

EYE = tuple(tuple(row) for row in np.eye(4).tolist())


def make_end(name: str) -> SearchedEnd:
    return SearchedEnd(name, f"{name}.stl", None, 0.001, 64 * "a", EYE, 0.1, (0.0, 1.0, 2.0), 0.4, 50)


SEARCH = JointSearch(make_end("L1"), make_end("L2"), "column", LimitSettings(), "middle", False, EYE[:3])


def make_joint(seed: int = 1) -> Joint:
    rng = np.random.default_rng(seed)
    envelope = Envelope(rng.random((3, 2)) / 3, rng.random(258) / 7)
    return Joint("L1", "L2", "column", np.eye(4), (1, -1, 1), None, (), "found", "±", None, envelope=envelope)


def test_every_bit_comes_back(tmp_path: Path) -> None:
    cache, joint = JointCache(tmp_path), make_joint()
    assert cache.find(SEARCH) is None
    cache.keep(SEARCH, joint)
    again = cache.find(SEARCH)
    assert again is not None
    assert joint.envelope is not None
    assert again.envelope is not None
    assert again.envelope.shares.tobytes() == joint.envelope.shares.tobytes()
    assert unstructure_value(again) == unstructure_value(joint)
    assert (cache.kept, cache.searched) == (1, 1)
    assert [path.suffix for path in tmp_path.iterdir()] == [".joint"]


@pytest.mark.parametrize(
    "other",
    [
        replace(SEARCH, settings=LimitSettings(gap_share_s=0.1)),
        replace(SEARCH, way="limb"),
        replace(SEARCH, side="left"),
        replace(SEARCH, headward=True),
        replace(SEARCH, axes=EYE[1:]),
        replace(SEARCH, X_WJ=EYE, senses=(1, 1, 1)),
        replace(SEARCH, child=replace(SEARCH.child, sha256=64 * "b")),
        replace(SEARCH, child=replace(SEARCH.child, body=1)),
        replace(SEARCH, child=replace(SEARCH.child, unit_m=1.0)),
        replace(SEARCH, child=replace(SEARCH.child, smallest_m=0.41)),
        replace(SEARCH, parent=replace(SEARCH.parent, X_WE=EYE[::-1])),
        replace(SEARCH, parent=replace(SEARCH.parent, name="L0")),
    ],
)
def test_whatever_differs_is_another_search(tmp_path: Path, other: JointSearch) -> None:
    cache = JointCache(tmp_path)
    cache.keep(SEARCH, make_joint())
    assert cache.find(other) is None


def test_a_file_that_was_renamed_is_the_same(tmp_path: Path) -> None:
    assert name_search(replace(SEARCH, child=replace(SEARCH.child, file="other/name.ply"))) == name_search(SEARCH)


def test_another_method_is_another_search(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache = JointCache(tmp_path)
    cache.keep(SEARCH, make_joint())
    monkeypatch.setattr(joint_cache, "name_method", lambda: name_method() + "changed")
    assert cache.find(SEARCH) is None


def test_the_method_is_its_source(monkeypatch: pytest.MonkeyPatch) -> None:
    """One letter more in one module of the core, and no joint found before is taken."""
    before, read = name_method.__wrapped__(), Path.read_bytes
    for changed in ("limits.py", "distance_grid.py", "envelope.py", "rotations.py", "joint_search.py"):

        def read_changed(path: Path, changed: str = changed) -> bytes:
            return read(path) + (b"#" if path.name == changed else b"")

        monkeypatch.setattr(Path, "read_bytes", read_changed)
        assert name_method.__wrapped__() != before


@pytest.mark.parametrize("content", [b"", b"\xff\xfe", b"not a joint\n", b"0\n{}\n", b"[" * 100_000])
def test_a_broken_file_is_replaced(tmp_path: Path, content: bytes) -> None:
    cache = JointCache(tmp_path)
    path = tmp_path / f"{name_search(SEARCH)}.joint"
    path.write_bytes(content)
    assert cache.find(SEARCH) is None
    cache.keep(SEARCH, make_joint())
    assert cache.find(SEARCH) is not None


def test_a_digit_that_changed_is_seen_and_so_is_anothers_file(tmp_path: Path) -> None:
    cache = JointCache(tmp_path)
    cache.keep(SEARCH, make_joint())
    path = tmp_path / f"{name_search(SEARCH)}.joint"
    whole = path.read_bytes()
    path.write_bytes(whole.replace(b"0.1", b"0.2", 1))
    assert cache.find(SEARCH) is None
    other = replace(SEARCH, side="left")
    (tmp_path / f"{name_search(other)}.joint").write_bytes(whole)
    assert cache.find(other) is None


def test_where_nothing_can_be_written_it_goes_on(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    cache = JointCache(tmp_path / "file" / "joints")
    cache.keep(SEARCH, make_joint())
    cache.tidy()
    assert cache.find(SEARCH) is None
    folder = JointCache(tmp_path)
    (tmp_path / f"{name_search(SEARCH)}.joint").mkdir()
    folder.keep(SEARCH, make_joint())
    assert folder.find(SEARCH) is None


def test_it_stays_within_its_size_and_drops_what_was_not_asked_for(tmp_path: Path) -> None:
    searches = [replace(SEARCH, child=replace(SEARCH.child, smallest_m=float(k))) for k in range(20)]
    cache = JointCache(tmp_path, most_bytes=80_000)
    for k, search in enumerate(searches):
        cache.keep(search, make_joint(k))
        os.utime(tmp_path / f"{name_search(search)}.joint", (k, k))
    assert cache.find(searches[0]) is not None  # asked for: now the newest
    cache.tidy()
    assert sum(path.stat().st_size for path in tmp_path.iterdir()) <= 80_000
    left = [k for k, search in enumerate(searches) if (tmp_path / f"{name_search(search)}.joint").exists()]
    assert left == [0, *range(20 - len(left) + 1, 20)]


def test_where_it_lies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def folder(asked: str = "", usual: Path | None = None) -> Path | None:
        cache = open_cache(asked, usual)
        return cache and cache.folder

    monkeypatch.setenv(VARIABLE, "off")
    assert folder() is None
    assert folder(str(tmp_path)) == tmp_path
    monkeypatch.setenv(VARIABLE, str(tmp_path / "there"))
    assert folder() == folder("", tmp_path) == tmp_path / "there"
    assert folder("off") is None
    monkeypatch.delenv(VARIABLE)
    assert folder("", tmp_path) == tmp_path
    for platform, variable in (("linux", "XDG_CACHE_HOME"), ("win32", "LOCALAPPDATA")):
        monkeypatch.setattr(joint_cache.sys, "platform", platform)
        monkeypatch.setenv(variable, str(tmp_path))
        assert folder() == tmp_path / "counterpoise" / "joints"
    monkeypatch.setattr(joint_cache.sys, "platform", "darwin")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert folder() == tmp_path / "Library" / "Caches" / "counterpoise" / "joints"
