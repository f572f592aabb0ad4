"""Joints that were found, kept by the content of all that they were found from: found again without a search.

A joint's file is named by the SHA-256 of its search (geometry, places, settings, frames), of the method's own source
and of the libraries it rests on. So it can be old, but not stale. The files are text. One that is broken, or another's,
counts for nothing and is written over; where none can be written the search goes on without.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import platform
import sys
import threading
import time
from dataclasses import asdict
from functools import cache
from pathlib import Path

import numpy as np
import scipy
import trimesh

from ..document.structure import TreeError, structure_value, unstructure_value
from ..skeleton.joint import Joint
from ..spatial.progress import Progress, ignore_progress
from .joint_search import JointSearch, search_joint

VARIABLE = "COUNTERPOISE_CACHE"
"""Of the environment: the folder, or OFF."""
OFF = "off"
MOST_BYTES = 64_000_000
"""Some 4000 joints; then those not asked for longest go."""

_PACKAGES = ("spatial", "mesh", "skeleton", "articulation")
_MODULES = ("document/structure.py", "document/rules.py", "studies/joint_search.py")
_LEFT_OVER_S = 86400.0
_LEFT = 0.8
"""Share of the greatest size that is left where something has to go."""


class JointCache:
    """Joints kept in a folder.

    kept : how many of the joints asked for were there; searched : how many were not
    """

    def __init__(self, folder: Path, most_bytes: int = MOST_BYTES) -> None:
        self.folder, self.most_bytes = folder, most_bytes
        self.kept = self.searched = 0

    def find(self, search: JointSearch) -> Joint | None:
        """The joint of a search that was made before."""
        joint = _read(self._path(search), search)
        if joint is None:
            self.searched += 1
        else:
            self.kept += 1
        return joint

    def keep(self, search: JointSearch, joint: Joint) -> None:
        """Keep what a search found: beside its place first, so that it is whole or not there at all."""
        text = json.dumps(unstructure_value(joint), ensure_ascii=True, allow_nan=False)
        path = self._path(search)
        beside = path.with_name(f"{path.stem}.{os.getpid()}-{threading.get_ident()}.part")
        with contextlib.suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            try:
                beside.write_text(f"{_digest(path.stem + text)}\n{text}\n", encoding="ascii", newline="\n")
                os.replace(beside, path)
            finally:
                beside.unlink(missing_ok=True)

    def tidy(self) -> None:
        """Drop what was not asked for longest, where the whole has become too large, and what a crash left behind."""
        with contextlib.suppress(OSError):
            for left_over in self.folder.glob("*.part"):
                if time.time() - left_over.stat().st_mtime > _LEFT_OVER_S:
                    left_over.unlink(missing_ok=True)
            files = [(path.stat(), path) for path in self.folder.glob("*.joint")]
            total = sum(stat.st_size for stat, _ in files)
            if total <= self.most_bytes:
                return
            for stat, path in sorted(files, key=lambda file: file[0].st_mtime_ns):
                if total <= _LEFT * self.most_bytes:
                    return
                path.unlink(missing_ok=True)
                total -= stat.st_size

    def describe(self) -> str:
        """How many joints were taken from it, as a plain sentence."""
        asked = self.kept + self.searched
        return f"{self.kept} of the {asked} joints looked for were taken from the cache, {self.searched} searched for."

    def _path(self, search: JointSearch) -> Path:
        return self.folder / f"{name_search(search)}.joint"


def open_cache(asked: str = "", usual: Path | None = None) -> JointCache | None:
    """The cache in the folder asked for, else the environment's, else the usual one; None where that is `off`.

    usual : the user's own folder for what can be done without, where None
    """
    chosen = asked or os.environ.get(VARIABLE) or str(usual or _default_folder())
    return None if chosen.lower() == OFF else JointCache(Path(chosen))


def find_joint(
    search: JointSearch, mesh_folder: Path, cache: JointCache | None, progress: Progress = ignore_progress
) -> Joint:
    """One joint, from the cache where it is there; see `search_joint`."""
    joint = cache.find(search) if cache else None
    if joint is None:
        joint = search_joint(search, mesh_folder, progress)
        if cache:
            cache.keep(search, joint)
            cache.tidy()
    return joint


def name_search(search: JointSearch) -> str:
    """SHA-256 of all that a joint follows from. The names of files are no part of it: what is in them is."""
    tree = asdict(search)
    for end in ("parent", "child"):
        del tree[end]["file"]
    return _digest(name_method() + json.dumps(tree, sort_keys=True, allow_nan=False))


@cache
def name_method() -> str:
    """SHA-256 of the source that a joint is found by, with what it rests on.

    Raises
    ------
    FileNotFoundError : the source is not there, so that an old joint could not be told from a new one
    """
    core = Path(__file__).parents[1]
    sources = [path for package in _PACKAGES for path in sorted((core / package).glob("*.py"))]
    if len({path.parent for path in sources}) < len(_PACKAGES):
        raise FileNotFoundError(core)
    parts = [f"{path.name} {_digest_bytes(path.read_bytes())}" for path in (*sources, *(core / m for m in _MODULES))]
    parts += [f"{library.__name__} {library.__version__}" for library in (np, scipy, trimesh)]
    parts += [platform.machine(), sys.platform]
    return _digest("\n".join(parts))


def _read(path: Path, search: JointSearch) -> Joint | None:
    try:
        digest, text = path.read_text(encoding="ascii").splitlines()
        if digest != _digest(path.stem + text):
            return None
        joint = structure_value(json.loads(text), Joint)
    except (OSError, ValueError, TreeError):
        return None
    if (joint.parent, joint.child) != (search.parent.name, search.child.name):
        return None
    with contextlib.suppress(OSError):
        os.utime(path)  # asked for now
    return joint


def _digest(text: str) -> str:
    return _digest_bytes(text.encode())


def _digest_bytes(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _default_folder() -> Path:
    """Where the platform keeps what a program can do without."""
    home = Path.home()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache")
    return base / "counterpoise" / "joints"
