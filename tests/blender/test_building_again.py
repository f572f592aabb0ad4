"""Building the rig again mends what the messages say it mends: another unit scale, bones and rigs that are gone."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from scenes import Scene, inside_limits
from test_errors import refuse


def assert_stands(scene: Scene) -> None:
    """Every proxy is where the core puts its element in the pose that the rig holds."""
    places, directions = scene.place_error(scene.read_pose())
    assert places < 1e-5 * scene.size_m()
    assert directions < 1e-5


@pytest.mark.parametrize("metres_per_unit", [0.01, 0.5, 2.0])
def test_building_again_takes_a_changed_unit_scale_in(animal_scene, metres_per_unit: float) -> None:
    """As the message says: the pose is kept, rig and proxies are as large in metres as before."""
    rng = np.random.default_rng(31)
    pose = animal_scene.write_pose({j.child: inside_limits(j, rng) for j in animal_scene.moving_joints()})
    animal_scene.rig.location = (0.5, -1.0, 0.25)
    animal_scene.rig.rotation_euler = (0.0, 0.0, 0.4)
    before = animal_scene.read_pose()
    sizes = proxy_sizes_m()
    bpy.context.scene.unit_settings.scale_length = metres_per_unit
    refuse(bpy.ops.counterpoise.save_pose, "or build the rig again", name="other")
    assert bpy.ops.counterpoise.build_rig() == {"FINISHED"}
    found = animal_scene.read_pose()
    np.testing.assert_allclose(found.X_WN, before.X_WN, rtol=0, atol=1e-5)
    for child, angles in pose.angles_rad.items():
        np.testing.assert_allclose(found.angles_rad[child], angles, rtol=0, atol=1e-5)
    assert_stands(animal_scene)
    assert proxy_sizes_m() == pytest.approx(sizes, rel=1e-5)
    assert bpy.ops.counterpoise.save_pose(name="other") == {"FINISHED"}
    bpy.context.scene.unit_settings.scale_length = 1.0
    assert bpy.ops.counterpoise.build_rig() == {"FINISHED"}
    assert proxy_sizes_m() == pytest.approx(sizes, rel=1e-5)
    assert_stands(animal_scene)


def proxy_sizes_m() -> dict[str, float]:
    """Diagonal of each proxy's box, as it is seen."""
    bpy.context.view_layer.update()
    metres = bpy.context.scene.unit_settings.scale_length
    proxies = [o for o in bpy.data.objects if o.type == "MESH"]
    return {o.name: float(np.linalg.norm(np.ptp(np.array(o.bound_box), axis=0))) * metres for o in proxies}


def test_a_lost_rig_is_built_again_after_the_unit_scale_was_changed(animal_scene) -> None:
    sizes = proxy_sizes_m()
    bpy.data.objects.remove(animal_scene.rig)
    bpy.context.scene.unit_settings.scale_length = 0.1
    assert bpy.ops.counterpoise.build_rig() == {"FINISHED"}
    assert proxy_sizes_m() == pytest.approx(sizes, rel=1e-5)
    assert_stands(animal_scene)


def test_building_again_brings_a_removed_bone_back(animal_scene) -> None:
    """V2 and all that hangs on it are at neutral then; the rest keeps its pose."""
    rng = np.random.default_rng(32)
    pose = animal_scene.write_pose({j.child: inside_limits(j, rng) for j in animal_scene.moving_joints()})
    assert {"V2", "leg V2 left", "V3", "V9", "leg V8 right"} <= set(pose.angles_rad)
    animal_scene.remove_bone("V2")
    refuse(bpy.ops.counterpoise.save_pose, "no bone for V2", name="short")
    assert bpy.ops.counterpoise.build_rig() == {"FINISHED"}
    found = animal_scene.read_pose()
    assert set(found.angles_rad) == set(pose.angles_rad) - {"V2", "leg V2 left", "leg V2 right"}
    for child, angles in found.angles_rad.items():
        np.testing.assert_allclose(angles, pose.angles_rad[child], rtol=0, atol=1e-5)
    assert_stands(animal_scene)


def test_a_rig_deleted_in_the_view_is_built_again_in_its_pose(animal_scene) -> None:
    rng = np.random.default_rng(33)
    pose = animal_scene.write_pose({j.child: inside_limits(j, rng) for j in animal_scene.moving_joints()})
    rig, objects = animal_scene.rig, set(bpy.context.scene.objects)
    bpy.ops.object.select_all(action="DESELECT")
    rig.select_set(True)
    bpy.ops.object.delete()
    assert rig.name not in bpy.context.scene.objects
    assert bpy.ops.counterpoise.build_rig() == {"FINISHED"}
    assert animal_scene.rig == rig
    assert set(bpy.context.scene.objects) == objects
    assert animal_scene.read_pose().angles_rad.keys() == pose.angles_rad.keys()
    assert_stands(animal_scene)
