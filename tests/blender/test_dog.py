"""The round trip on real bones: every bone of the dog, to 1e-5 rad and 1e-5 of its size."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest
import scenes
from scenes import inside_limits

pytestmark = [pytest.mark.dog, pytest.mark.slow]


@pytest.fixture(scope="module")
def dog_blend(dog_folder: Path, part, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The dog surveyed and imported, saved."""
    folder = tmp_path_factory.mktemp("dog")
    table = folder / "elements.csv"
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    given = {"folder": str(dog_folder), "unit": "m", "table_path": str(table)}
    assert bpy.ops.counterpoise.survey_folder(**given) == {"FINISHED"}
    assert bpy.ops.counterpoise.import_skeleton(**given) == {"FINISHED"}
    bpy.ops.wm.save_as_mainfile(filepath=str(folder / "dog.blend"))
    return folder / "dog.blend"


def test_every_bone_of_the_dog(dog_blend: Path, part) -> None:
    bpy.ops.wm.open_mainfile(filepath=str(dog_blend))
    dog = scenes.Scene(part)
    joints = dog.moving_joints()
    assert len(joints) >= 40
    assert len(dog.document.skeleton.elements) >= 230
    size, rng = dog.size_m(), np.random.default_rng(21)
    together = {joint.child: inside_limits(joint, rng) for joint in joints}
    for angles in [{child: turn} for child, turn in together.items()] + [together]:
        pose = dog.write_pose(angles)
        found = dog.read_pose().angles_rad
        for joint in joints:
            wanted = angles.get(joint.child, np.zeros(3))
            np.testing.assert_allclose(found.get(joint.child, np.zeros(3)), wanted, rtol=0, atol=1e-5)
        places, directions = dog.place_error(pose)
        assert places < 1e-5 * size
        assert directions < 1e-5


def test_the_dog_stands_with_figures(dog_blend: Path, part) -> None:
    bpy.ops.wm.open_mainfile(filepath=str(dog_blend))
    assert bpy.ops.counterpoise.stand() == {"FINISHED"}
    figures = part("bridge.figures").live_figures()
    assert {finding.name: finding.state for finding in figures.findings}["Stands"] == "holds"
    assert figures.outside.startswith("0 of")
