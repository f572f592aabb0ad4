"""Reference pictures behind the view."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
import scenes
from mathutils import Vector
from scenes import Scene

op = bpy.ops.counterpoise


def test_a_picture_stands_behind_its_view_and_goes_without_a_trace(animal_scene: Scene, tmp_path) -> None:
    made = bpy.data.images.new("drawn", 40, 20)
    made.filepath_raw, made.file_format = str(tmp_path / "side.png"), "PNG"
    made.save()
    bpy.data.images.remove(made)
    before = scenes.scene_contents()
    assert op.add_reference(filepath=str(tmp_path / "side.png"), view="LEFT", opacity=0.4) == {"FINISHED"}
    picture = bpy.context.scene.objects["Reference side"]
    corners = [o.matrix_world @ Vector(c) for o in animal_scene.rig.children if o.type == "MESH" for c in o.bound_box]
    low, high = np.min(corners, axis=0), np.max(corners, axis=0)
    assert picture.empty_display_size == pytest.approx(high[0] - low[0], rel=1e-5)
    assert np.array(picture.matrix_world)[:3, 0] == pytest.approx(
        (-1, 0, 0), abs=1e-6
    )  # its right is the animal's tail
    assert np.array(picture.matrix_world)[:3, 1] == pytest.approx((0, 0, 1), abs=1e-6)
    assert picture.location[2] == pytest.approx((low[2] + high[2]) / 2, abs=1e-5)
    assert (picture.empty_image_depth, picture.hide_select) == ("BACK", True)
    assert picture.color[3] == pytest.approx(0.4)
    assert op.remove_reference(name="Reference side") == {"FINISHED"}
    assert scenes.scene_contents() == before
    assert "side.png" not in bpy.data.images
    assert (tmp_path / "side.png").is_file()


@pytest.mark.parametrize(("name", "content"), [("gone.png", None), ("text.png", b"no picture")])
def test_what_is_no_picture_is_refused(animal_scene: Scene, tmp_path, name: str, content: bytes | None) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    before, images = scenes.scene_contents(), len(bpy.data.images)
    with pytest.raises(RuntimeError, match=name):
        op.add_reference(filepath=str(tmp_path / name), view="LEFT")
    assert scenes.scene_contents() == before
    assert len(bpy.data.images) == images
