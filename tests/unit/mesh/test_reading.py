"""Reading: every format, text and binary, gives the same surface; every broken file a plain error."""

from __future__ import annotations

import json
import os
import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.bodies import merge_vertices
from core_calcs.mesh.mass_properties import measure_polyhedron
from core_calcs.mesh.reading import UNITS_M, find_mesh_file, hash_file, list_mesh_files, read_surface
from core_calcs.mesh.surface import Surface
from core_calcs.spatial.errors import MeshFileError


def make_wedge() -> trimesh.Trimesh:
    """A tetrahedron without any symmetry: volume 1, centre (1/4, 1/2, 3/4)."""
    vertices = [(0, 0, 0), (1, 0, 0), (0, 2, 0), (0, 0, 3)]
    faces = [(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)]
    return trimesh.Trimesh(vertices, faces, process=False)


@pytest.fixture
def wedge() -> trimesh.Trimesh:
    return make_wedge()


def write(path: Path, mesh: trimesh.Trimesh, **options: object) -> Path:
    data = mesh.export(file_type=path.suffix[1:].lower(), **options)
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("a.stl", {}),
        ("a.STL", {}),
        ("a.ply", {"encoding": "binary"}),
        ("b.ply", {"encoding": "ascii"}),
        ("a.obj", {}),
    ],
)
def test_formats_give_the_same_surface(tmp_path: Path, wedge: trimesh.Trimesh, name: str, options: dict) -> None:
    found = measure_polyhedron(merge_vertices(read_surface(write(tmp_path / name, wedge, **options), 0.5)))
    assert found.volume_m3 == pytest.approx(0.125, rel=1e-6)
    assert found.centre_m == pytest.approx([0.125, 0.25, 0.375], rel=1e-6)


def test_text_stl(tmp_path: Path, wedge: trimesh.Trimesh) -> None:
    path = tmp_path / "a.stl"
    path.write_text(wedge.export(file_type="stl_ascii"), encoding="utf-8")
    surface = read_surface(path, 1.0)
    assert surface.vertices.shape == (12, 3)
    assert measure_polyhedron(surface).volume_m3 == pytest.approx(1.0)


def test_binary_stl_may_begin_with_solid(tmp_path: Path, wedge: trimesh.Trimesh) -> None:
    path = write(tmp_path / "a.stl", wedge)
    path.write_bytes(b"solid".ljust(80) + path.read_bytes()[80:])
    assert len(read_surface(path, 1.0).faces) == 4


def test_obj_polygons_are_cut_into_triangles(tmp_path: Path) -> None:
    path = tmp_path / "a.obj"
    corners = [(x, y, z) for x in (0, 2) for y in (0, 3) for z in (0, 4)]
    quads = ["1 2 4 3", "5 7 8 6", "1 5 6 2", "3 4 8 7", "1 3 7 5", "2 6 8 4"]
    path.write_text("".join(f"v {x} {y} {z}\n" for x, y, z in corners) + "".join(f"f {q}\n" for q in quads))
    surface = read_surface(path, 1.0)
    assert surface.faces.shape == (12, 3)
    assert measure_polyhedron(surface).volume_m3 == pytest.approx(24.0)


def test_gltf_is_turned_from_y_up_and_its_transforms_applied(tmp_path: Path, wedge: trimesh.Trimesh) -> None:
    """glTF 2.0, 3.4: right-handed, +Y up."""
    scene = trimesh.Scene()
    scene.add_geometry(wedge, transform=trimesh.transformations.translation_matrix((10, 20, 30)))
    path = tmp_path / "a.glb"
    path.write_bytes(scene.export(file_type="glb"))
    found = measure_polyhedron(merge_vertices(read_surface(path, 1.0)))
    assert found.volume_m3 == pytest.approx(1.0, rel=1e-6)
    assert found.centre_m == pytest.approx([10.25, -30.75, 20.5], rel=1e-6)


def test_gltf_reads_no_buffer_outside_its_folder(tmp_path: Path, wedge: trimesh.Trimesh) -> None:
    folder = tmp_path / "scans"
    folder.mkdir()
    for name, data in trimesh.Scene(wedge).export(file_type="gltf").items():
        (folder / name).write_bytes(data)
    path = folder / "model.gltf"
    assert len(read_surface(path, 1.0).faces) == 4
    tree = json.loads(path.read_text(encoding="utf-8"))
    buffer = tree["buffers"][0]["uri"]
    (tmp_path / buffer).write_bytes((folder / buffer).read_bytes())
    tree["buffers"][0]["uri"] = f"../{buffer}"
    path.write_text(json.dumps(tree), encoding="utf-8")
    with pytest.raises(MeshFileError, match="mesh folder"):
        read_surface(path, 1.0)


@pytest.mark.parametrize(("unit", "metres"), [("m", 1), ("cm", 1e-2), ("mm", 1e-3), ("in", 0.0254), ("ft", 0.3048)])
def test_units(tmp_path: Path, wedge: trimesh.Trimesh, unit: str, metres: float) -> None:
    """International inch and foot: 25.4 mm and 304.8 mm exactly (1959 agreement)."""
    path = write(tmp_path / "a.stl", wedge)
    assert read_surface(path, UNITS_M[unit]).vertices.max() == pytest.approx(3 * metres)


def broken_files(wedge: trimesh.Trimesh) -> dict[str, bytes]:
    stl = wedge.export(file_type="stl")
    text = wedge.export(file_type="stl_ascii").encode()
    ply = wedge.export(file_type="ply")
    ply_text = wedge.export(file_type="ply", encoding="ascii")
    glb = trimesh.Scene(wedge).export(file_type="glb")
    nan = bytearray(stl)
    nan[84 + 12 : 84 + 16] = struct.pack("<f", float("nan"))
    infinite = bytearray(stl)
    infinite[84 + 12 : 84 + 16] = struct.pack("<f", float("inf"))
    return {
        "zero.stl": b"",
        "zero.ply": b"",
        "zero.obj": b"",
        "zero.glb": b"",
        "cut.stl": stl[:-20],
        "long.stl": stl + b"more",
        "no_triangles.stl": stl[:80] + struct.pack("<I", 0),
        "nan.stl": bytes(nan),
        "infinite.stl": bytes(infinite),
        "cut_text.stl": text[: len(text) * 2 // 3],
        "cut_at_facet.stl": text[: text.rindex(b"endsolid")],
        "letters.stl": b"solid a\nfacet normal 0 0 1\nouter loop\nvertex a b c\nendloop\nendfacet\nendsolid\n",
        "picture.stl": b"\x89PNG\r\n\x1a\n" + bytes(range(256)),
        "words.stl": b"these are only words, and no mesh",
        "short.stl": b"\x00\x01",
        "cut.ply": ply[:-7],
        "cut_text.ply": (ply_text if isinstance(ply_text, bytes) else ply_text.encode())[:-20],
        "words.ply": b"these are only words",
        "header_only.ply": b"ply\nformat ascii 1.0\nelement vertex 0\nelement face 0\nend_header\n",
        "index.ply": (ply_text if isinstance(ply_text, bytes) else ply_text.encode()).replace(b"3 1 2 3", b"3 1 2 9"),
        "index.obj": b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n",
        "points.obj": b"v 0 0 0\nv 1 0 0\nv 0 1 0\n",
        "nan.obj": b"v 0 0 nan\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
        "words.obj": b"these are only words",
        "cut.glb": glb[:-40],
        "words.glb": b"these are only words, and no mesh",
        "words.gltf": b"{",
        "wrong.txt": stl,
    }


BROKEN = broken_files(make_wedge())


@pytest.mark.parametrize("name", sorted(BROKEN))
def test_broken_files_give_a_plain_error(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(BROKEN[name])
    with pytest.raises(MeshFileError) as caught:
        read_surface(path, 1.0)
    assert caught.value.where == name
    assert caught.value.what
    assert caught.value.remedy
    assert "\n" not in str(caught.value)


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(MeshFileError, match="cannot be opened"):
        read_surface(tmp_path / "not_there.stl", 1.0)


def test_listing_is_sorted_recursive_and_knows_suffixes_in_any_case(tmp_path: Path) -> None:
    for name in ("b.STL", "a.ply", "c/d.Obj", "e.glb", "f.gltf", "notes.txt"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    found = [path.relative_to(tmp_path).as_posix() for path in list_mesh_files(tmp_path)]
    assert found == ["a.ply", "b.STL", "c/d.Obj", "e.glb", "f.gltf"]


def test_listing_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(MeshFileError, match="no such folder"):
        list_mesh_files(tmp_path / "nowhere")


@pytest.mark.skipif(os.name == "nt", reason="links need rights on Windows")
def test_links_out_of_the_folder_are_refused(tmp_path: Path) -> None:
    (tmp_path / "secret.stl").touch()
    folder = tmp_path / "scans"
    folder.mkdir()
    (folder / "link.stl").symlink_to(tmp_path / "secret.stl")
    with pytest.raises(MeshFileError, match="link leads out"):
        list_mesh_files(folder)


@pytest.mark.parametrize(
    "name", ["../a.stl", "b/../../a.stl", "/a.stl", "C:\\a.stl", "..\\a.stl", "\\\\host\\a.stl", ""]
)
def test_names_that_leave_the_folder_are_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / "a.stl").touch()
    with pytest.raises(MeshFileError, match="does not lie in the mesh folder"):
        find_mesh_file(tmp_path / "scans", name)


def test_hash(tmp_path: Path) -> None:
    """SHA-256 of "abc": FIPS 180-2, appendix B.1."""
    (tmp_path / "a.stl").write_bytes(b"abc")
    assert hash_file(tmp_path / "a.stl") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_surface_is_plain_arrays(tmp_path: Path, wedge: trimesh.Trimesh) -> None:
    surface = read_surface(write(tmp_path / "a.ply", wedge), 1.0)
    assert isinstance(surface, Surface)
    assert type(surface.vertices) is np.ndarray
    assert surface.vertices.dtype == np.float64
    assert surface.faces.dtype == np.int64


@pytest.mark.parametrize(
    ("held", "told"),
    [
        (b"ISO-10303-21;\nHEADER;\n" + b" " * 100, "it is a STEP file, a solid model and no mesh. Export its surface"),
        (b"not a mesh", "not an STL file: it has 10 bytes, a header alone takes 84. Export it again"),
    ],
)
def test_what_is_no_mesh_is_told_for_what_it_is(tmp_path: Path, held: bytes, told: str) -> None:
    (tmp_path / "L4.stl").write_bytes(held)
    with pytest.raises(MeshFileError, match=f"L4.stl: {told}"):
        read_surface(tmp_path / "L4.stl", 1.0)
