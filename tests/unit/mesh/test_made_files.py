"""Files of made surfaces: exact, marked, never over another, gone where something fails."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.mesh.made_files import MadeMark, read_mark, together, write_made
from core_calcs.mesh.mass_properties import measure_polyhedron
from core_calcs.mesh.reading import read_surface
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.transformed import transform_surface
from core_calcs.spatial.errors import OutputError

MARK = MadeMark("mirrored", "Oberschenkel größer.R", "0" * 64)


@pytest.fixture(scope="module")
def surface(shapes) -> Surface:
    return shapes.make_box((0.1, 0.2, 0.3), (1.234567891234, -7.1, 0.3))


@pytest.mark.parametrize("unit_m", [1.0, 0.001, 0.0254])
def test_what_is_read_is_what_was_written_to_a_picometre(surface, tmp_path, unit_m):
    file = write_made(tmp_path, "Femur.L", surface, unit_m, MARK)
    assert file == "made/Femur.L.ply"
    read = read_surface(tmp_path / file, unit_m)
    np.testing.assert_allclose(read.vertices, surface.vertices, rtol=0, atol=1e-14)
    np.testing.assert_array_equal(read.faces, surface.faces)
    assert read_mark(tmp_path / file) == MARK


def test_another_files_mark_is_none(tmp_path, surface):
    (tmp_path / "some.stl").write_bytes(b"solid")
    (tmp_path / "some.ply").write_bytes(b"ply\ncomment counterpoise {broken\nend_header\n")
    assert read_mark(tmp_path / "some.stl") is None
    assert read_mark(tmp_path / "some.ply") is None


def test_nothing_is_written_over(surface, tmp_path):
    first = write_made(tmp_path, "Femur.L", surface, 1.0, MARK)
    assert write_made(tmp_path, "Femur.L", surface, 1.0, MARK) == first
    before = (tmp_path / first).read_bytes()
    other = write_made(tmp_path, "Femur.L", Surface(surface.vertices + 1, surface.faces), 1.0, MARK)
    assert other == "made/Femur.L-2.ply"
    assert (tmp_path / first).read_bytes() == before
    assert sorted(path.name for path in (tmp_path / "made").iterdir()) == ["Femur.L-2.ply", "Femur.L.ply"]


@pytest.mark.parametrize(("name", "file"), [("../../x", "_.._x"), ("Rib 3?", "Rib 3_"), ("…", "_"), (".", "bone")])
def test_a_name_stays_within_the_folder(surface, tmp_path, name, file):
    assert write_made(tmp_path, name, surface, 1.0, MARK) == f"made/{file}.ply"


def test_what_fails_leaves_nothing(surface, tmp_path):
    def fail() -> None:
        with together(tmp_path):
            write_made(tmp_path, "Femur.L", surface, 1.0, MARK)
            raise KeyError

    with pytest.raises(KeyError):
        fail()
    assert not list(tmp_path.iterdir())
    write_made(tmp_path, "Femur.L", surface, 1.0, MARK)
    with pytest.raises(KeyError):
        fail()
    assert [path.name for path in (tmp_path / "made").iterdir()] == ["Femur.L.ply"]


def test_where_nothing_can_be_written_it_is_said(surface, tmp_path):
    (tmp_path / "made").write_text("in the way")
    with pytest.raises(OutputError, match="cannot be written there"):
        write_made(tmp_path, "Femur.L", surface, 1.0, MARK)


def test_mirroring_keeps_outside_outside_and_twice_is_the_same(surface):
    mirror = np.diag([1.0, -1.0, 1.0, 1.0])
    once = transform_surface(surface, mirror)
    assert measure_polyhedron(once).volume_m3 == pytest.approx(0.006)
    twice = transform_surface(once, mirror)
    np.testing.assert_array_equal(twice.vertices, surface.vertices)
    np.testing.assert_array_equal(twice.faces, surface.faces)
