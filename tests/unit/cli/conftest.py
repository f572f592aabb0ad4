"""The made-up animal, surveyed and articulated once."""

from __future__ import annotations

import shutil

import pytest

from tests.unit.cli.driving import BOXES, Place, run, write_box


@pytest.fixture(scope="session")
def finished(tmp_path_factory) -> Place:
    """Surveyed and articulated once for all tests: none of them changes it."""
    place = Place(tmp_path_factory.mktemp("animal"))
    place.meshes.mkdir()
    for name, (centre, size) in BOXES.items():
        write_box(place.meshes / f"{name}.stl", centre, size)
    assert run("survey", place.meshes, "--table", place.table).exit_code == 0
    made = run("articulate", place.table, "--meshes", place.meshes, "--document", place.document, "--search-deg", 10)
    assert made.exit_code == 0, made.output
    return place


@pytest.fixture
def place(finished, tmp_path) -> Place:
    """A copy that a test may change."""
    shutil.copytree(finished.folder, tmp_path / "animal")
    return Place(tmp_path / "animal")
