"""Six silhouettes that hidden poses gave, reached by the add-on's operators: within three percent in 40 calls or fewer.

The calls were found by tests/posing_targets/run.py, which sees the silhouettes alone: see tests/data/README.md.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import bpy
import numpy as np
import pytest
import scenes
from scenes import Scene

TOP = Path(__file__).parents[2]
CALLS, GOAL = 40, 0.03
VIEWS = {"side": (0.0, 1.0, 0.0), "top": (0.0, 0.0, 1.0)}
FOUND = json.loads((TOP / "tests" / "data" / "posing_calls.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def strider_folder() -> Path:
    """What tests/posing_targets/files.py writes."""
    folder = Path(os.environ.get("STRIDER_FOLDER", TOP / ".cache" / "strider"))
    if not (folder / "targets.npz").is_file():
        raise FileNotFoundError(f"{folder}: the animal is not there. Run `make strider`, or set STRIDER_FOLDER.")
    return folder


@pytest.fixture(scope="module")
def strider_blend(strider_folder: Path, installed: None, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The animal's document opened, saved."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    assert bpy.ops.counterpoise.open_document(filepath=str(strider_folder / "animal.json")) == {"FINISHED"}
    path = tmp_path_factory.mktemp("strider") / "strider.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    return path


@pytest.fixture(scope="module")
def surfaces(strider_folder: Path, part) -> list[Any]:
    """Of the elements in the skeleton's order, as silhouettes take them, from the full meshes."""
    document = part("core_calcs.document.reading").read_document(strider_folder / "animal.json")
    read, outline = (
        part("core_calcs.mesh.element_surface").read_element,
        part("core_calcs.mesh.silhouettes").outline_body,
    )
    sources = [element.source for element in document.skeleton.elements]
    return [outline(read(strider_folder / "bones", own.file, own.body, own.unit_m)) for own in sources]


@pytest.fixture
def strider(strider_blend: Path, empty_scene: None, part) -> Scene:
    """At neutral, each time as it was saved."""
    bpy.ops.wm.open_mainfile(filepath=str(strider_blend))
    return scenes.Scene(part)


@pytest.mark.parametrize("target", FOUND)
def test_a_silhouette_is_reached(strider: Scene, surfaces: list[Any], strider_folder: Path, part, target: str) -> None:
    silhouettes = part("core_calcs.mesh.silhouettes")
    assert not strider.read_pose().angles_rad
    calls = FOUND[target]["calls"]
    assert len(calls) <= CALLS
    for call in calls:
        assert getattr(bpy.ops.counterpoise, call["operator"])(**call["given"]) == {"FINISHED"}
    wanted = np.load(strider_folder / "targets.npz")["motions"][list(FOUND).index(target)]
    reached = read_motions(strider)
    crowds = [silhouettes.place_bodies(surfaces, X) for X in (reached, wanted)]
    crowds.append(silhouettes.place_bodies([*surfaces, *surfaces], np.concatenate([reached, wanted])))
    left = {}
    for view, way in VIEWS.items():
        pose, aim, both = (silhouettes.measure_silhouette(crowd, np.array(way)).area_m2 for crowd in crowds)
        left[view] = (2 * both - pose - aim) / aim
    assert left == pytest.approx(FOUND[target]["left"], abs=2e-3)
    assert max(left.values()) <= GOAL


def test_all_six_are_there(strider_folder: Path) -> None:
    assert len(FOUND) == len(np.load(strider_folder / "targets.npz")["motions"]) == 6


def read_motions(scene: Scene) -> np.ndarray:
    """(n, 4, 4) how far Blender shows each element from where it was scanned, in the skeleton's order."""
    bpy.context.view_layer.update()
    depsgraph = bpy.context.evaluated_depsgraph_get()
    proxies = {o["counterpoise_element"]: o for o in scene.rig.children if "counterpoise_element" in o}
    motions = []
    for element in scene.document.skeleton.elements:
        X = np.array(proxies[element.name].evaluated_get(depsgraph).matrix_world)
        X[:3, 3] -= X[:3, :3] @ element.solid.centre_m  # the proxy's origin
        motions.append(X @ np.linalg.inv(element.X_WE))
    return np.array(motions)
