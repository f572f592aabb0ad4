"""A plain model of a scene's skeletons, changed step by step beside Blender; and all that undo must bring back."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import bpy
import numpy as np
import pytest
from scenes import Scene


@dataclass
class Motion:
    """Angles of the joints that are turned, where the whole is, and which feet bear nothing."""

    angles: dict[str, np.ndarray] = field(default_factory=dict)
    X_WN: np.ndarray = field(default_factory=lambda: np.eye(4))
    idle: tuple[str, ...] = ()


@dataclass
class Saved:
    name: str
    motion: Motion
    note: str = ""
    mounted: bool = False


@dataclass
class Skeleton:
    """A document as far as the steps change it, and the pose of its rig; None: the rig is gone.

    files : by element, of its surface; corrections : those that count, the elements of each
    site : what is said of ground, wind and factors; footings : by foot, height and whether anchored
    actions : by name, kind and element; castings : by level and name, kind and wall
    weighings : by element; steelwork : by name, its ends; placed : by element, the reason
    lost : elements whose proxies were deleted
    discs : by joint that has one set, thickness and reason; marks : by joint, element and kind of facets marked
    searched : by joint that was searched for, contact and gap allowed
    keyed : what the rig held before a movement was made of saved poses; None: it has none
    """

    poses: list[Saved]
    joints: dict[str, tuple[bool, str]]
    rig: Motion | None
    records: list[tuple[str, ...]]
    files: dict[str, str]
    feet: list[str]
    site: dict[str, Any]
    corrections: list[tuple[str, ...]] = field(default_factory=list)
    footings: dict[str, tuple[float, bool]] = field(default_factory=dict)
    actions: dict[str, tuple[str, str]] = field(default_factory=dict)
    castings: dict[tuple[str, str], tuple[str, float]] = field(default_factory=dict)
    weighings: dict[str, float] = field(default_factory=dict)
    steelwork: dict[str, tuple[str, str]] = field(default_factory=dict)
    placed: dict[str, str] = field(default_factory=dict)
    lost: set[str] = field(default_factory=set)
    discs: dict[str, tuple[float, str]] = field(default_factory=dict)
    marks: dict[str, tuple[tuple[str, str], ...]] = field(default_factory=dict)
    searched: dict[str, tuple[float, float]] = field(default_factory=dict)
    keyed: Motion | None = None

    @property
    def is_animal(self) -> bool:
        """Whether it is the animal whose joints were set by hand; else the column that is jointed by its facets."""
        return "V5" in self.files

    def find(self, name: str) -> int:
        return [pose.name for pose in self.poses].index(name)


@dataclass
class Model:
    """shown : how the list of poses is sorted, and whether the other way round; references : by name, the view"""

    skeletons: dict[str, Skeleton]
    active: str
    shown: tuple[str, bool] = ("OWN", False)
    references: dict[str, str] = field(default_factory=dict)

    @property
    def own(self) -> Skeleton:
        return self.skeletons[self.active]


def read_model(scene: Scene) -> Skeleton:
    """The model of the active skeleton as it is."""
    document, pose = scene.document, scene.read_pose()
    joints = {joint.child: (joint.moves, joint.reason) for joint in document.skeleton.joints}
    saved = [Saved(p.name, _motion_of(p), p.note, bool(p.mounted)) for p in document.poses]
    records = [(own.action, *own.elements, own.why) for own in document.records]
    files = {element.name: element.source.file for element in document.skeleton.elements}
    feet = [foot.name for foot in document.skeleton.feet]
    parts = read_parts(document)
    return Skeleton(saved, joints, _motion_of(pose), records, files, feet, **parts)


def _motion_of(pose: Any) -> Motion:
    return Motion(dict(pose.angles_rad), pose.X_WN, tuple(sorted(pose.idle_feet)))


def read_parts(document: Any) -> dict[str, Any]:
    """What a document says besides poses, joints and records, as the model has it."""
    site, build, joints = document.site, document.build, document.skeleton.joints
    own = [(("SERIES", one.series), one.casting) for one in build.series_castings]
    own += [(("ELEMENT", one.element), one.casting) for one in build.element_castings]
    return {
        "site": {
            "ground": site.ground_m,
            "friction": site.friction,
            "pressure": site.wind.pressure_Pa if site.wind else None,
            "variable": site.factors.variable_against,
            "clearance": site.clearance_share_s,
        },
        "footings": {one.foot: (one.height_m, one.anchored) for one in site.footings},
        "actions": {one.name: (one.kind, one.element) for one in site.actions},
        "castings": {key: (one.kind, one.wall_m if one.kind == "hollow" else 0.0) for key, one in own},
        "weighings": {one.element: one.mass_kg for one in build.weighings},
        "steelwork": {one.name: (one.start, one.end) for one in build.steelwork},
        "placed": {j.child: j.placing.reason for j in joints if j.placing is not None},
        "discs": {j.child: (j.disc.thickness_m, j.disc.reason) for j in joints if j.disc is not None},
        "marks": {j.child: tuple((mark.element, mark.kind) for mark in j.marks) for j in joints if j.marks},
        "searched": {
            j.child: (j.settings.contact_share_s, j.settings.gap_share_s) for j in joints if j.settings is not None
        },
    }


def record() -> dict[str, Any]:
    """Everything that undo and redo must bring back bit by bit."""
    rigs = [thing for thing in bpy.data.objects if thing.type == "ARMATURE"]
    return {
        "texts": {text.name: text.as_string() for text in bpy.data.texts},
        "channels": {rig.name: [tuple(map(tuple, b.matrix_basis)) for b in rig.pose.bones] for rig in rigs},
        "rows": [(row.name, row.compared, row.ghost) for row in bpy.context.scene.counterpoise.poses],
        "actions": {rig.name: bool(rig.animation_data and rig.animation_data.action) for rig in rigs},
        "selected": bpy.context.scene.counterpoise.pose_index,
        "records": [(row.name, row.counts) for row in bpy.context.scene.counterpoise.records],
        "castings": [(row.level, row.name) for row in bpy.context.scene.counterpoise.castings],
        "objects": sorted(thing.name for thing in bpy.context.scene.objects),
        "parents": {thing.name: (thing.parent and thing.parent.name, thing.parent_bone) for thing in bpy.data.objects},
    }


def assert_same(found: dict[str, Any], wanted: dict[str, Any]) -> None:
    """Every part is what it was; else says which is not, and how."""
    for part, was in wanted.items():
        if found[part] == was:
            continue
        if not isinstance(was, dict) or found[part].keys() != was.keys():
            there = sorted(found[part]) if isinstance(was, dict) else found[part]
            raise AssertionError(f"{part}: {there}, it was {sorted(was) if isinstance(was, dict) else was}")
        for name in was:
            if found[part][name] != was[name]:
                pairs = enumerate(zip(found[part][name], was[name], strict=False))
                at, (there, here) = next(((i, pair) for i, pair in pairs if pair[0] != pair[1]), (-1, ("", "")))
                lengths = len(found[part][name]), len(was[name])
                raise AssertionError(f"{part} of {name} at {at} of {lengths}: {there!r}, it was {here!r}")


def done(operator: Any, **given: Any) -> bool:
    """Do a step with its undo, as a button does it."""
    assert operator("EXEC_DEFAULT", True, **given) == {"FINISHED"}
    return True


def refused(operator: Any, told: str, **given: Any) -> bool:
    """A step that is refused leaves no step behind."""
    with pytest.raises(RuntimeError, match=told):
        operator("EXEC_DEFAULT", True, **given)
    return False
