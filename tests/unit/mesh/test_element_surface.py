"""The canonical surface of an element, and that a file is read once for all of its bodies."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.mesh import element_surface
from core_calcs.mesh.element_surface import read_bodies, read_element
from core_calcs.mesh.mass_properties import measure_polyhedron
from core_calcs.spatial.errors import MeshFileError


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """pair.stl: two boxes in mm, the one towards the head inside out; one.stl: a box."""
    one = trimesh.creation.box(extents=(40, 30, 20))
    head = trimesh.creation.box(extents=(10, 10, 10))
    head.apply_translation((100, 0, 0))
    head.invert()
    (tmp_path / "pair.stl").write_bytes(trimesh.util.concatenate([one, head]).export(file_type="stl"))
    (tmp_path / "one.stl").write_bytes(one.export(file_type="stl"))
    return tmp_path


def test_bodies_in_the_order_of_the_survey_wound_outwards(folder: Path) -> None:
    first = measure_polyhedron(read_element(folder, "pair.stl", 1, 1e-3))
    assert first.volume_m3 == pytest.approx(1e-6)
    assert first.centre_m == pytest.approx([0.1, 0, 0])
    assert measure_polyhedron(read_element(folder, "pair.stl", 2, 1e-3)).volume_m3 == pytest.approx(24e-6)
    assert measure_polyhedron(read_element(folder, "pair.stl", None, 1e-3)).volume_m3 == pytest.approx(25e-6)


def test_a_file_is_read_once_for_its_bodies(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[str] = []
    true_read = element_surface.read_surface
    monkeypatch.setattr(
        element_surface, "read_surface", lambda path, unit: (read.append(path.name), true_read(path, unit))[1]
    )
    for file, body in (("one.stl", None), ("pair.stl", 1), ("pair.stl", 2), ("pair.stl", None), ("one.stl", 1)):
        read_element(folder, file, body, 1e-3)
    assert read == ["one.stl", "pair.stl", "one.stl"]


def test_a_changed_file_is_read_again(folder: Path) -> None:
    before = read_element(folder, "one.stl", None, 1e-3)
    path = folder / "one.stl"
    path.write_bytes(trimesh.creation.box(extents=(80, 30, 20)).export(file_type="stl"))
    os.utime(path, ns=(1, 1))
    assert np.ptp(read_element(folder, "one.stl", None, 1e-3).vertices[:, 0]) == pytest.approx(0.08)
    assert np.ptp(before.vertices[:, 0]) == pytest.approx(0.04)


def test_surfaces_are_read_only(folder: Path) -> None:
    with pytest.raises(ValueError, match="read-only"):
        read_element(folder, "one.stl", None, 1.0).vertices[0] = 0


@pytest.mark.parametrize("body", [0, 3, -1])
def test_a_body_that_is_not_there(folder: Path, body: int) -> None:
    with pytest.raises(MeshFileError, match=f"no body {body}, only 2"):
        read_element(folder, "pair.stl", body, 1.0)


def test_a_file_outside_the_folder(folder: Path) -> None:
    with pytest.raises(MeshFileError, match="does not lie in the mesh folder"):
        read_bodies(folder / "sub", "../one.stl", 1.0)


def test_a_file_whose_triangles_have_no_area(folder: Path) -> None:
    (folder / "flat.obj").write_text("v 0 0 0\nv 1 0 0\nv 2 0 0\nf 1 2 2\nf 1 1 3\n", encoding="utf-8")
    with pytest.raises(MeshFileError, match="flat"):
        read_element(folder, "flat.obj", None, 1.0)
