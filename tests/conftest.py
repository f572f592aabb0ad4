"""Fixtures that every part of the suite may use."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

import pytest

# No test is fed with joints that its user has found before; those of one run are searched for once.
_CACHE = tempfile.TemporaryDirectory(prefix="counterpoise-joints-")
os.environ["COUNTERPOISE_CACHE"] = _CACHE.name


@pytest.fixture(scope="session")
def dog_folder() -> Path:
    """The folder of the dog's bones: BONE*.stl in metres, from the package index (see demo_blend/fetch_dog.py)."""
    folder = Path(os.environ.get("DOG_FOLDER", Path(__file__).parent.parent / ".cache" / "dog"))
    if not any(folder.glob("BONE*.stl")):
        raise FileNotFoundError(f"{folder}: the dog's bones are not there. Run `make dog`, or set DOG_FOLDER.")
    return folder
