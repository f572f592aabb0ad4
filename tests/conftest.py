"""Fixtures that every part of the suite may use."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

os.environ["COUNTERPOISE_CACHE"] = "off"  # no test is fed with joints that its user has found before


@pytest.fixture(scope="session")
def dog_folder() -> Path:
    """The folder of the dog's bones: BONE*.stl in metres, from the package index (see demo_blend/fetch_dog.py)."""
    folder = Path(os.environ.get("DOG_FOLDER", Path(__file__).parent.parent / ".cache" / "dog"))
    if not any(folder.glob("BONE*.stl")):
        raise FileNotFoundError(f"{folder}: the dog's bones are not there. Run `make dog`, or set DOG_FOLDER.")
    return folder
