"""Surface colours of scans: what each format keeps, where on the surface it lies, and what is not read from outside."""

from __future__ import annotations

import base64
import json
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import trimesh
from PIL import Image
from trimesh.visual.material import PBRMaterial, SimpleMaterial
from trimesh.visual.texture import TextureVisuals

from core_calcs.mesh import colours
from core_calcs.mesh.colours import decode_srgb, encode_srgb, has_colours, pick_colours, read_colours
from core_calcs.skeleton.element import Source
from core_calcs.studies.display import make_display_surfaces

RED, BLUE = (200, 100, 50), (20, 40, 220)
TOP = np.array([(0.0, 0.0, 0.5)])


def make_ball() -> trimesh.Trimesh:
    return trimesh.creation.icosphere(3, radius=0.5)


def paint_vertices(ball: trimesh.Trimesh) -> trimesh.Trimesh:
    """Red below, blue above."""
    above = ball.vertices[:, 2] > 0
    ball.visual.vertex_colors = np.where(above[:, None], (*BLUE, 255), (*RED, 255)).astype(np.uint8)
    return ball


def paint_faces(ball: trimesh.Trimesh) -> trimesh.Trimesh:
    above = ball.triangles_center[:, 2] > 0
    ball.visual.face_colors = np.where(above[:, None], (*BLUE, 255), (*RED, 255)).astype(np.uint8)
    return ball


def wrap(ball: trimesh.Trimesh, material: type, name: str) -> trimesh.Trimesh:
    """A picture about it: red below, blue above. Pictures have their first row on top, v runs up."""
    picture = np.zeros((64, 64, 3), np.uint8)
    picture[:32], picture[32:] = BLUE, RED
    uv = np.stack([0.5 + np.arctan2(*ball.vertices[:, 1::-1].T) / 7, 0.5 + 0.98 * ball.vertices[:, 2]], axis=1)
    ball.visual = TextureVisuals(uv=uv, material=material(**{name: Image.fromarray(picture)}))
    return ball


def seen(path: Path, unit_m: float = 1.0, up: np.ndarray = TOP) -> tuple[list[int], list[int]]:
    """Colours at the top and at the bottom, as whole numbers."""
    found = read_colours(path, unit_m)
    assert found is not None
    return tuple((255 * pick_colours(found, at * unit_m)[0]).round().astype(int).tolist() for at in (up, -up))


@pytest.mark.parametrize("encoding", ["binary", "ascii"])
@pytest.mark.parametrize("paint", [paint_vertices, paint_faces])
def test_ply(tmp_path: Path, encoding: str, paint) -> None:
    (tmp_path / "a.ply").write_bytes(paint(make_ball()).export(file_type="ply", encoding=encoding))
    assert seen(tmp_path / "a.ply", 0.01) == (list(BLUE), list(RED))


def test_obj_with_colours_at_its_vertices(tmp_path: Path) -> None:
    paint_vertices(make_ball()).export(tmp_path / "a.obj")
    assert seen(tmp_path / "a.obj") == (list(BLUE), list(RED))


def test_obj_with_a_picture(tmp_path: Path) -> None:
    wrap(make_ball(), SimpleMaterial, "image").export(tmp_path / "a.obj")
    assert seen(tmp_path / "a.obj") == (list(BLUE), list(RED))
    next(tmp_path.glob("*.png")).unlink()
    found = read_colours(tmp_path / "a.obj", 1.0)
    assert found is None or len(np.unique(found.colours, axis=0)) == 1, "without its picture at most its plain colour"


def test_obj_with_plain_materials(tmp_path: Path) -> None:
    ball = make_ball()
    above = ball.triangles_center[:, 2] > 0
    lines = ["mtllib a.mtl", *(f"v {x} {y} {z}" for x, y, z in ball.vertices)]
    for name, faces in (("up", ball.faces[above]), ("down", ball.faces[~above])):
        lines += [f"usemtl {name}", *("f " + " ".join(str(i + 1) for i in face) for face in faces)]
    (tmp_path / "a.obj").write_text("\n".join(lines) + "\n", "utf-8")
    (tmp_path / "a.mtl").write_text("newmtl up\nKd 0.2 0.4 0.8\nnewmtl down\nKd 0.8 0.4 0.2\n", "utf-8")
    assert seen(tmp_path / "a.obj") == ([51, 102, 204], [204, 102, 51])
    (tmp_path / "a.mtl").unlink()
    assert read_colours(tmp_path / "a.obj", 1.0) is None


def test_glb_with_a_picture_is_turned_z_up_like_its_shape(tmp_path: Path) -> None:
    """glTF is y up: what the file has at +z lies at -y."""
    wrap(make_ball(), PBRMaterial, "baseColorTexture").export(tmp_path / "a.glb")
    assert seen(tmp_path / "a.glb", up=np.array([(0.0, -0.5, 0.0)])) == (list(BLUE), list(RED))


def test_glb_gives_vertex_colours_and_factors_in_linear_values(tmp_path: Path) -> None:
    """glTF 2.0, 3.7.2.1 and 3.9.2. A screen's 188 is half the light (IEC 61966-2-1)."""
    paint_vertices(make_ball()).export(tmp_path / "a.glb")
    wanted = (255 * encode_srgb(np.array([BLUE, RED]) / 255)).round().astype(int).tolist()
    assert list(seen(tmp_path / "a.glb", up=np.array([(0.0, -0.5, 0.0)]))) == wanted
    plain = make_ball()
    plain.visual = TextureVisuals(material=PBRMaterial(baseColorFactor=[0.5, 0.5, 0.5, 1.0]))
    plain.export(tmp_path / "b.glb")
    assert seen(tmp_path / "b.glb")[0] == pytest.approx([188] * 3, abs=1)


@pytest.mark.parametrize("name", ["a.stl", "a.ply", "a.obj", "a.glb", "a.gltf"])
def test_a_scan_without_colours_is_not_read_twice(tmp_path: Path, name: str, monkeypatch) -> None:
    if name.endswith("gltf"):
        for file, data in make_ball().export(file_type="gltf").items():
            (tmp_path / (name if file.endswith("gltf") else file)).write_bytes(data)
    else:
        make_ball().export(tmp_path / name)
    monkeypatch.setattr(colours, "_load_parts", None)
    assert not has_colours(tmp_path / name)
    assert read_colours(tmp_path / name, 1.0) is None


def test_nothing_outside_the_folder_is_read(tmp_path: Path) -> None:
    """A material that names a picture elsewhere on the machine."""
    inner = tmp_path / "scans"
    inner.mkdir()
    wrap(make_ball(), SimpleMaterial, "image").export(inner / "a.obj")
    (picture,) = inner.glob("*.png")
    picture.rename(tmp_path / picture.name)
    (library,) = inner.glob("*.mtl")
    library.write_text(library.read_text("utf-8").replace(picture.name, f"../{picture.name}"), "utf-8")
    found = read_colours(inner / "a.obj", 1.0)
    assert found is None or not np.allclose(found.colours[0], np.array(BLUE) / 255, atol=0.01)


def test_a_broken_picture_leaves_the_shape(tmp_path: Path) -> None:
    wrap(make_ball(), PBRMaterial, "baseColorTexture").export(tmp_path / "a.glb")
    content = (tmp_path / "a.glb").read_bytes()
    head = json.loads(content[20 : 20 + int.from_bytes(content[12:16], "little")])
    view = head["bufferViews"][head["images"][0]["bufferView"]]
    begin = 28 + int.from_bytes(content[12:16], "little") + view.get("byteOffset", 0)
    (tmp_path / "a.glb").write_bytes(content[:begin] + b"\0" * 40 + content[begin + 40 :])
    assert has_colours(tmp_path / "a.glb")
    faults: list[str] = []
    found = read_colours(tmp_path / "a.glb", 1.0, faults)
    assert found is None or (found.colours == 1.0).all()
    assert faults == ["picture 1 cannot be found or read"]


def test_a_picture_that_is_none_is_told_wherever_it_lies(tmp_path: Path) -> None:
    """In a glTF file as a data URI; beside an OBJ file."""
    wrap(make_ball(), PBRMaterial, "baseColorTexture").export(tmp_path / "a.glb")
    content = (tmp_path / "a.glb").read_bytes()
    head = json.loads(content[20 : 20 + int.from_bytes(content[12:16], "little")])
    view = head["bufferViews"][head["images"][0]["bufferView"]]
    begin = 28 + int.from_bytes(content[12:16], "little")
    data = content[begin:]
    at = view.get("byteOffset", 0)
    sound = data[at : at + view["byteLength"]]
    for picture, told in ((sound, []), (b"no picture", ["skin cannot be found or read"])):
        faults: list[str] = []
        uri = "data:image/png;base64," + base64.b64encode(picture).decode()
        own = head | {
            "buffers": [{"byteLength": len(data), "uri": "data:;base64," + base64.b64encode(data).decode()}],
            "images": [{"uri": uri, "mimeType": "image/png", "name": "skin"}],
        }
        (tmp_path / "b.gltf").write_text(json.dumps(own), "utf-8")
        read_colours(tmp_path / "b.gltf", 1.0, faults)
        assert faults == told
    wrap(make_ball(), SimpleMaterial, "image").export(tmp_path / "c.obj")
    (beside,) = tmp_path.glob("*.png")
    beside.write_bytes(b"no picture")
    faults = []
    read_colours(tmp_path / "c.obj", 1.0, faults)
    assert faults == [f"{beside.name} cannot be found or read"]


def test_what_cannot_be_read_of_colours_is_told_with_the_file(tmp_path: Path) -> None:
    """No material, no picture, all there; the shape is read each time."""
    corners = "mtllib a.mtl\nv 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nvt 0 0\nvt 1 0\nvt 0 1\nusemtl skin\n"
    (tmp_path / "a.obj").write_text(f"{corners}f 1/1 3/2 2/3\nf 1/1 2/2 4/3\nf 2/1 3/2 4/3\nf 1/1 4/2 3/3\n")
    element = SimpleNamespace(name="one", source=Source("a.obj", None, 1.0, ""))
    for material, lacks in (("", "a.mtl"), ("map_Kd skin.png\n", "skin.png"), ("Kd 1 0 0\n", "")):
        if material:
            (tmp_path / "a.mtl").write_text(f"newmtl skin\n{material}")
        surface = make_display_surfaces([element], tmp_path, 100)["one"]
        assert len(surface.faces) == 4
        assert surface.colours_fault == (f"a.obj: {lacks} cannot be found or read" if lacks else "")


def test_light_and_screen_values_are_each_others_inverse() -> None:
    shares = np.linspace(0, 1, 101)
    np.testing.assert_allclose(encode_srgb(decode_srgb(shares)), shares, atol=1e-6)


@pytest.mark.parametrize("triangles", [1280, 200])
def test_display_surfaces_have_the_colours_of_their_scans(tmp_path: Path, triangles: int) -> None:
    """Near the top all is blue, near the bottom all red, at any number of triangles; two bodies of one file too."""
    low = make_ball()
    low.apply_translation((2.0, 0.0, 0.0))
    paint_vertices(trimesh.util.concatenate([make_ball(), low])).export(tmp_path / "a.ply")
    make_ball().export(tmp_path / "b.stl")
    sources = {
        "one": Source("a.ply", 1, 0.1, ""),
        "two": Source("a.ply", 2, 0.1, ""),
        "plain": Source("b.stl", None, 1.0, ""),
    }
    elements = [SimpleNamespace(name=name, source=source) for name, source in sources.items()]
    shown = make_display_surfaces(elements, tmp_path, triangles)
    assert shown["plain"].colours is None
    for name in ("one", "two"):
        surface = shown[name]
        assert surface.colours.shape == surface.vertices.shape
        for where, colour in ((surface.vertices[:, 2] > 0.02, BLUE), (surface.vertices[:, 2] < -0.02, RED)):
            assert where.any()
            np.testing.assert_allclose(255 * surface.colours[where], np.tile(colour, (where.sum(), 1)), atol=0.5)
