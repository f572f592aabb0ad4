"""Colours of the scans on the proxies: there when the skeleton is built, as the user chose, and in the file."""

from __future__ import annotations

import shutil
from pathlib import Path

import bpy
import numpy as np
import pytest
from scenes import Scene

RED, BLUE = (200, 100, 50), (20, 40, 220)
SPLIT_MM = 400.0


@pytest.fixture
def coloured(animal_files: tuple[Path, Path], tmp_path: Path, part) -> Path:
    """The animal; V1 as PLY with vertex colours, V2 as OBJ with a picture: red below its middle, blue above."""
    import trimesh  # comes with the zip
    from PIL import Image

    folder, table = tmp_path / "scans", tmp_path / "elements.csv"
    shutil.copytree(animal_files[0], folder)
    mesh = trimesh.load(folder / "V1.stl")
    above = mesh.vertices[:, 2] > SPLIT_MM
    mesh.visual.vertex_colors = np.where(above[:, None], (*BLUE, 255), (*RED, 255)).astype(np.uint8)
    mesh.export(folder / "V1.ply")
    mesh = trimesh.load(folder / "V2.stl")
    picture = np.zeros((8, 8, 3), np.uint8)
    picture[:4], picture[4:] = BLUE, RED
    uv = np.stack([np.full(len(mesh.vertices), 0.5), np.where(mesh.vertices[:, 2] > SPLIT_MM, 0.9, 0.1)], axis=1)
    material = trimesh.visual.material.SimpleMaterial(image=Image.fromarray(picture))
    mesh.visual = trimesh.visual.TextureVisuals(uv=uv, material=material)
    mesh.export(folder / "V2.obj")
    for name in ("V1", "V2"):
        (folder / f"{name}.stl").unlink()
    text = animal_files[1].read_text("utf-8")
    table.write_text(text.replace("V1.stl", "V1.ply").replace("V2.stl", "V2.obj"), "utf-8")
    assert bpy.ops.counterpoise.import_skeleton(folder=str(folder), table_path=str(table), unit="mm") == {"FINISHED"}
    return tmp_path


def read_colours(proxy: bpy.types.Object) -> tuple[np.ndarray, np.ndarray]:
    """Height of every vertex over the element's middle, and its colour as a screen is given it."""
    attribute = proxy.data.color_attributes["Scan"]
    shown = np.empty(4 * len(proxy.data.vertices), np.float32)
    attribute.data.foreach_get("color_srgb", shown)
    places = np.array([proxy.matrix_world @ vertex.co for vertex in proxy.data.vertices])
    return 1000 * places[:, 2] - SPLIT_MM, 255 * shown.reshape(-1, 4)[:, :3]


def check_colours(proxy: bpy.types.Object) -> None:
    height, shown = read_colours(proxy)
    for where, colour in ((height > 0.5, BLUE), (height < -0.5, RED)):
        assert where.any()
        np.testing.assert_allclose(shown[where], np.tile(colour, (where.sum(), 1)), atol=1.5)


def test_an_appended_skeleton_shows_them_in_the_views(coloured: Path) -> None:
    path = coloured / "coloured.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    (name,) = (own.name for own in bpy.data.collections if "V1" in own.all_objects)
    bpy.ops.wm.read_homefile(use_factory_startup=True)
    assert "VERTEX" not in shown_by_views()
    bpy.ops.wm.append(directory=f"{path / 'Collection'}/", filename=name)
    assert bpy.ops.counterpoise.take_in_skeleton(name=name) == {"FINISHED"}
    assert "VERTEX" in shown_by_views()


def material_of(name: str) -> bpy.types.Material:
    return bpy.data.objects[name].data.materials[0]


def shown_by_views() -> set[str]:
    """What the solid views of every workspace take colours from."""
    areas = [area for screen in bpy.data.screens for area in screen.areas if area.type == "VIEW_3D"]
    assert areas
    return {area.spaces.active.shading.color_type for area in areas}


def test_colours_are_kept_and_shown_or_not_as_the_user_says(coloured: Path, part) -> None:
    colours, settings = part("properties.palette"), bpy.context.scene.counterpoise
    assert "VERTEX" in shown_by_views()
    assert "MATERIAL" not in shown_by_views()
    assert settings.colours == "SCAN"
    for name in ("V1", "V2"):
        check_colours(bpy.data.objects[name])
        nodes = material_of(name).node_tree.nodes
        (link,) = nodes["Principled BSDF"].inputs["Base Color"].links
        assert link.from_node.layer_name == "Scan"
        assert bpy.data.objects[name].data.color_attributes.active_color.name == "Scan"
    assert material_of("V1") == material_of("V2") != material_of("V3")
    assert not bpy.data.objects["V3"].data.color_attributes
    assert tuple(bpy.data.objects["V3"].color) == pytest.approx(colours.proxy_colour("dorsal"), abs=1e-5)
    settings.colours = "SERIES"
    assert material_of("V1") == material_of("V3")
    assert "MATERIAL" in shown_by_views()
    assert "VERTEX" not in shown_by_views()
    settings.colours = "BONE"
    assert material_of("V1") == material_of("V9")
    assert tuple(bpy.data.objects["V1"].color) == pytest.approx((*colours.IVORY, 1.0), abs=1e-5)
    settings.colours = "SCAN"
    assert material_of("V1") == material_of("V2") != material_of("V3")
    check_colours(bpy.data.objects["V1"])


def test_colours_outlive_the_file_and_a_rig_built_again(coloured: Path) -> None:
    bpy.ops.wm.save_as_mainfile(filepath=str(coloured / "animal.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(coloured / "animal.blend"))
    for name in ("V1", "V2"):
        check_colours(bpy.data.objects[name])
    bpy.data.objects.remove(bpy.data.objects["V1"])
    assert bpy.ops.counterpoise.build_rig() == {"FINISHED"}
    check_colours(bpy.data.objects["V1"])


def test_a_material_of_the_users_own_stays(coloured: Path) -> None:
    mine = bpy.data.materials.new("mine")
    bpy.data.objects["V1"].data.materials[0] = mine
    bpy.context.scene.counterpoise.colours = "SERIES"
    bpy.context.scene.counterpoise.colours = "SCAN"
    assert material_of("V1") == mine


def test_without_colours_there_is_no_attribute(animal_scene: Scene) -> None:
    assert all(not own.data.color_attributes for own in bpy.data.objects if own.type == "MESH")
