"""What the tests do in a scene, by the operators a user has and by Blender itself."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from pathlib import Path
from types import ModuleType
from typing import Any

import bpy
import numpy as np

PACKAGE = "bl_ext.user_default.counterpoise"

Part = Callable[[str], ModuleType]


@dataclass
class Scene:
    """A skeleton in Blender's scene, seen through the add-on's parts."""

    part: Part

    @property
    def settings(self) -> Any:
        return bpy.context.scene.counterpoise

    @property
    def rig(self) -> Any:
        return self.settings.rig

    @property
    def document(self) -> Any:
        """Read by the core from the text block alone."""
        text = self.settings.document.as_string()
        return self.part("core_calcs.document.reading").document_from_text(text, "test")

    def text_but(self, *left_out: str) -> str:
        """The document's text without its records and the like."""
        empty = dict.fromkeys(left_out, ())
        return str(self.part("core_calcs.document.reading").document_to_text(replace(self.document, **empty)))

    def read_pose(self) -> Any:
        """By the add-on, from the evaluated rig."""
        bpy.context.view_layer.update()
        kept = self.part("bridge.kept_document").keep_document(bpy.context.scene)
        return self.part("bridge.figures").read_scene_pose(bpy.context, kept)

    def write_pose(self, angles: dict[str, np.ndarray], X_WN: np.ndarray | None = None) -> Any:
        """By the add-on, into the rig's channels; returns the pose."""
        pose = self.part("core_calcs.skeleton.pose").Pose("test", angles, np.eye(4) if X_WN is None else X_WN)
        self.part("operators.posing").pose_rig(bpy.context, pose)
        return pose

    def bone_of(self, element: str) -> Any:
        """The pose bone that turns an element's joint."""
        return next(b for b in self.rig.pose.bones if b.bone.get("counterpoise_element") == element)

    def remove_bone(self, element: str) -> None:
        """In edit mode, as a user does it."""
        bone = self.bone_of(element).name
        bpy.context.view_layer.objects.active = self.rig
        bpy.ops.object.mode_set(mode="EDIT")
        self.rig.data.edit_bones.remove(self.rig.data.edit_bones[bone])
        bpy.ops.object.mode_set(mode="OBJECT")

    def moving_joints(self) -> list[Any]:
        return [joint for joint in self.document.skeleton.joints if joint.moves]

    def bounds_of(self, element: str) -> np.ndarray:
        """(3, 2) least and greatest angle of an element's joint about each axis."""
        limits = self.document.skeleton.joint_of(element).limits
        return np.array([(limit.low.angle_rad, limit.high.angle_rad) for limit in limits])

    def place_error(self, pose: Any, lost: Collection[str] = ()) -> tuple[float, float]:
        """Greatest difference between where Blender evaluates an element's proxy and where the core puts the element.

        lost : elements whose proxies were deleted. Returns places [m] and directions [1].
        """
        skeleton = self.document.skeleton
        wanted = self.part("core_calcs.skeleton.kinematics").place_elements(skeleton, pose)
        bpy.context.view_layer.update()
        depsgraph = bpy.context.evaluated_depsgraph_get()
        proxies = {o["counterpoise_element"]: o for o in self.rig.children if "counterpoise_element" in o}
        assert set(proxies) == {element.name for element in skeleton.elements} - set(lost)
        metres = bpy.context.scene.unit_settings.scale_length
        places, directions = 0.0, 0.0
        for element, X_WE in zip(skeleton.elements, wanted, strict=True):
            if element.name in lost:
                continue
            found = np.array(proxies[element.name].evaluated_get(depsgraph).matrix_world)
            centre = X_WE[:3, :3] @ element.solid.centre_m + X_WE[:3, 3]  # the proxy's origin
            places = max(places, float(np.abs(found[:3, 3] * metres - centre).max()))
            directions = max(directions, float(np.abs(found[:3, :3] - X_WE[:3, :3]).max()))
        return places, directions

    def size_m(self) -> float:
        return float(self.part("core_calcs.studies.rigging").plan_rig(self.document.skeleton).size_m)


def import_animal(part: Part, folder: Path, table: Path) -> Scene:
    """Import the made-up animal and set its joints by hand: a column of eight, legs of opposite senses.

    V1 stays fixed and rides on V2. Centres lie between the elements; the column bends about y, legs swing about y.
    """
    op = bpy.ops.counterpoise
    assert op.import_skeleton(folder=str(folder), table_path=str(table), unit="mm", name="animal") == {"FINISHED"}
    for i in (2, 3, 4, 6, 7, 8, 9):
        away = 1.0 if i < 5 else -1.0
        set_joint(f"V{i}", (0.06 * (5 - i) - 0.03 * away, 0, 0.4), (0, 1, 0), (away, 0, 0.1), ((-0.5, 0.4),) * 3)
    for parent, x in (("V2", 0.18), ("V8", -0.18)):
        for side, y, senses in (("left", 0.07, (1, -1, -1)), ("right", -0.07, (1, 1, 1))):
            limits = ((-0.6, 0.3), (-0.1, 0.5), (-0.2, 0.35))
            set_joint(f"leg {parent} {side}", (x, y, 0.39), (0, 1, 0), (0, 0, -1), limits, senses)
    return Scene(part)


def set_joint(
    child: str,
    centre: tuple[float, float, float],
    flexion_axis: tuple[float, float, float],
    long_axis: tuple[float, float, float],
    limits: tuple[tuple[float, float], ...],
    senses: tuple[int, int, int] = (1, 1, 1),
) -> None:
    done = bpy.ops.counterpoise.set_joint(
        child=child,
        centre=centre,
        flexion_axis=flexion_axis,
        long_axis=long_axis,
        flexion=limits[0],
        lateral=limits[1],
        axial=limits[2],
        senses=senses,
        reason="made up for the test",
    )
    assert done == {"FINISHED"}


def take_bone(scene: Scene, element: str) -> None:
    """Into pose mode, an element's bone selected alone and active."""
    bpy.context.view_layer.objects.active = scene.rig
    scene.rig.select_set(True)
    bpy.ops.object.mode_set(mode="POSE")
    bpy.ops.pose.select_all(action="DESELECT")
    bone = scene.bone_of(element)
    scene.rig.data.bones.active = bone.bone
    (bone if hasattr(bone, "select") else bone.bone).select = True


def name_neck(scene: Scene) -> None:
    """The animal's four foremost vertebrae are the neck's."""
    known = json.loads(scene.settings.document.as_string())
    for element in known["skeleton"]["elements"]:
        if element["name"] in ("V1", "V2", "V3", "V4"):
            element["series"] = "cervical"
    scene.settings.document.from_string(json.dumps(known, indent=1))


def random_rotation(rng: np.random.Generator) -> np.ndarray:
    """(3, 3) from a random quaternion."""
    w, x, y, z = (q := rng.normal(size=4)) / np.linalg.norm(q)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )


def inside_limits(joint: Any, rng: np.random.Generator) -> np.ndarray:
    """Random angles inside a joint's limits; up to half a radian where they are not known."""
    if joint.limits is None:
        return rng.uniform(-0.5, 0.5, 3)
    return np.array([rng.uniform(limit.low.angle_rad, limit.high.angle_rad) for limit in joint.limits])


def scene_contents() -> dict[str, list[str]]:
    """Names of everything in the file, by kind."""
    kinds = ("texts", "collections", "objects", "armatures", "meshes", "materials", "actions", "scenes")
    return {kind: sorted(block.name for block in getattr(bpy.data, kind)) for kind in kinds}
