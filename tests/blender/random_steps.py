"""Random steps in a scene, each done by its operator and by a plain model beside it; the history keeps both."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import bpy
import numpy as np
import pytest
from scenes import Scene
from verdicts import keep_verdicts

MOST_POSES = 6
MOUNTED = "as mounted before"

op = bpy.ops.counterpoise


@dataclass
class Motion:
    """Angles of the joints that are turned, and where the whole is."""

    angles: dict[str, np.ndarray] = field(default_factory=dict)
    X_WN: np.ndarray = field(default_factory=lambda: np.eye(4))


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
    """

    poses: list[Saved]
    joints: dict[str, tuple[bool, str]]
    rig: Motion | None
    records: list[tuple[str, ...]]
    files: dict[str, str]
    corrections: list[tuple[str, ...]] = field(default_factory=list)

    def find(self, name: str) -> int:
        return [pose.name for pose in self.poses].index(name)


@dataclass
class Model:
    skeletons: dict[str, Skeleton]
    active: str

    @property
    def own(self) -> Skeleton:
        return self.skeletons[self.active]


class Walk:
    """A scene, the model of it, and the history of both."""

    def __init__(self, scene: Scene, document: Path, seed: int) -> None:
        self.scene, self.document, self.rng = scene, document, np.random.default_rng(seed)
        self.worst_rad = 0.0
        own = read_model(scene)
        self.model = Model({scene.settings.document.name: own}, scene.settings.document.name)
        self.history = [(deepcopy(self.model), record())]
        self.position = 0

    def pick(self, names: list[str]) -> str:
        return str(self.rng.choice(names))

    def pick_pose(self) -> str:
        return self.pick([pose.name for pose in self.model.own.poses])

    def step(self) -> tuple[str, bool]:
        """A random step: which, and whether it went through the history."""
        kinds = list(WEIGHTS)
        shares = np.array(list(WEIGHTS.values())) / sum(WEIGHTS.values())
        kind = str(self.rng.choice(kinds, p=shares))
        if kind in ("undo", "redo"):
            return kind, self.travel(kind)
        if globals()[kind](self):
            del self.history[self.position + 1 :]
            self.history.append((deepcopy(self.model), record()))
            self.position += 1
        return kind, False

    def travel(self, kind: str) -> bool:
        before = self.position
        for _ in range(self.rng.integers(1, 5)):
            to = self.position + (1 if kind == "redo" else -1)
            if not 0 <= to < len(self.history):
                break
            getattr(bpy.ops.ed, kind)()
            self.position = to
            self.model = deepcopy(self.history[to][0])
            assert_same(record(), self.history[to][1])
        return self.position != before


def read_model(scene: Scene) -> Skeleton:
    """The model of the active skeleton as it is."""
    document, pose = scene.document, scene.read_pose()
    joints = {joint.child: (joint.moves, joint.reason) for joint in document.skeleton.joints}
    saved = [Saved(p.name, Motion(dict(p.angles_rad), p.X_WN), p.note, bool(p.mounted)) for p in document.poses]
    records = [(own.action, *own.elements, own.why) for own in document.records]
    files = {element.name: element.source.file for element in document.skeleton.elements}
    return Skeleton(saved, joints, Motion(dict(pose.angles_rad), pose.X_WN), records, files)


def record() -> dict[str, Any]:
    """Everything that undo and redo must bring back bit by bit."""
    rigs = [thing for thing in bpy.data.objects if thing.type == "ARMATURE"]
    return {
        "texts": {text.name: text.as_string() for text in bpy.data.texts},
        "channels": {rig.name: [tuple(map(tuple, b.matrix_basis)) for b in rig.pose.bones] for rig in rigs},
        "rows": [row.name for row in bpy.context.scene.counterpoise.poses],
        "selected": bpy.context.scene.counterpoise.pose_index,
        "records": [(row.name, row.counts) for row in bpy.context.scene.counterpoise.records],
        "objects": sorted(thing.name for thing in bpy.context.scene.objects),
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


def save(walk: Walk) -> bool:
    own = walk.model.own
    if own.rig is None or len(own.poses) >= MOST_POSES:
        return False
    name = f"pose {walk.rng.integers(1000)}"
    if name in [pose.name for pose in own.poses]:
        return False
    own.poses.append(Saved(name, deepcopy(own.rig)))
    return done(op.save_pose, name=name)


def save_over(walk: Walk) -> bool:
    own = walk.model.own
    if own.rig is None or not own.poses:
        return False
    name = walk.pick_pose()
    if own.poses[own.find(name)].mounted:
        return refused(op.save_pose, "where elements were mounted", name=name, overwrite=True)
    own.poses[own.find(name)].motion = deepcopy(own.rig)
    return done(op.save_pose, name=name, overwrite=True)


def delete(walk: Walk) -> bool:
    own = walk.model.own
    if not own.poses:
        return False
    name = walk.pick_pose()
    if [pose.name for pose in own.poses if pose.mounted] == [name] and own.corrections:
        return refused(op.delete_pose, "put all corrections back first", name=name)
    del own.poses[own.find(name)]
    return done(op.delete_pose, name=name)


def rename(walk: Walk) -> bool:
    """To a new name, or to one that is taken, which is refused and leaves no step behind."""
    own = walk.model.own
    if not own.poses:
        return False
    name, new_name = walk.pick_pose(), walk.pick([walk.pick_pose(), f"renamed {walk.rng.integers(1000)}"])
    if new_name != name and new_name in [pose.name for pose in own.poses]:
        return refused(op.rename_pose, "a pose of that name", name=name, new_name=new_name)
    own.poses[own.find(name)].name = new_name
    return done(op.rename_pose, name=name, new_name=new_name)


def move(walk: Walk) -> bool:
    own = walk.model.own
    if not own.poses:
        return False
    name, places = walk.pick_pose(), int(walk.rng.integers(-2, 3))
    at = own.find(name)
    pose = own.poses.pop(at)
    own.poses.insert(max(0, at + places), pose)
    return done(op.move_pose, name=name, places=places)


def duplicate(walk: Walk) -> bool:
    own = walk.model.own
    if not own.poses or len(own.poses) >= MOST_POSES:
        return False
    name, new_name = walk.pick_pose(), f"copy {walk.rng.integers(1000)}"
    if new_name in [pose.name for pose in own.poses]:
        return False
    at = own.find(name)
    copy = deepcopy(own.poses[at])
    copy.name = new_name
    own.poses.insert(at + 1, copy)
    return done(op.duplicate_pose, name=name, new_name=new_name)


def note(walk: Walk) -> bool:
    own = walk.model.own
    if not own.poses:
        return False
    name, text = walk.pick_pose(), walk.pick(["", "quiet", "as drawn; ß"])
    own.poses[own.find(name)].note = text
    return done(op.note_pose, name=name, note=text)


def restore(walk: Walk) -> bool:
    own = walk.model.own
    if own.rig is None or not own.poses:
        return False
    name = walk.pick_pose()
    if not own.poses[own.find(name)].mounted:  # such a pose is shown, and turns nothing
        own.rig = deepcopy(own.poses[own.find(name)].motion)
    return done(op.restore_pose, name=name)


def reset(walk: Walk) -> bool:
    if walk.model.own.rig is None:
        return False
    walk.model.own.rig.angles = {}
    return done(op.reset_pose)


def stand(walk: Walk) -> bool:
    """Where it ends up is the core's own; the joints stay as they are and no foot is below the ground."""
    own = walk.model.own
    if own.rig is None:
        return False
    done(op.stand, level=bool(walk.rng.integers(2)))
    own.rig.X_WN = walk.scene.read_pose().X_WN
    return True


def turn(walk: Walk) -> bool:
    """By the bone's own channels, as a user does it."""
    own = walk.model.own
    moving = [child for child, (moves, _) in own.joints.items() if moves]
    if own.rig is None:
        return False
    child = walk.pick(moving)
    flexion = float(np.float32(walk.rng.uniform(-0.15, 0.15)))
    angles = {"flexion": flexion, "lateral": 0.0, "axial": 0.0}
    joint = walk.scene.document.skeleton.joint_of(child)
    signed = np.array(list(angles.values())) * joint.senses
    walk.scene.bone_of(child).rotation_euler = (signed[0], signed[2], signed[1])
    own.rig.angles = {**own.rig.angles, child: np.array(list(angles.values()))}
    bpy.context.view_layer.update()
    bpy.ops.ed.undo_push(message="Turn a bone")
    return True


def set_joint(walk: Walk) -> bool:
    """Set anew with a reason, wide limits and a centre a little off; or fixed, which takes its angles away.

    Both are recorded, unless nothing has changed.
    """
    own = walk.model.own
    if own.rig is None:
        return False
    child, reason = walk.pick(["V3", "V7", "leg V2 left"]), f"reason {walk.rng.integers(1000)}"
    if walk.rng.random() < 0.3:
        if own.joints[child] != (False, reason):
            own.records.append(("joint fixed", child, reason))
        own.joints[child] = (False, reason)
        for motion in (own.rig, *(pose.motion for pose in own.poses)):
            motion.angles.pop(child, None)
        return done(op.set_joint, child=child, fixed=True, reason=reason)
    own.joints[child] = (True, reason)
    own.records.append(("joint set", child, reason))
    centre = np.array(walk.scene.document.skeleton.joint_of(child).X_WJ[:3, 3]) + walk.rng.uniform(-1e-3, 1e-3, 3)
    wide = (-0.6, 0.6)
    return done(op.set_joint, child=child, centre=centre, flexion=wide, lateral=wide, axial=wide, reason=reason)


def put_right(walk: Walk) -> bool:
    """An element turned end for end, or two exchanged; the first time how all stood becomes a pose."""
    own = walk.model.own
    if own.rig is None:
        return False
    fault, reason = walk.pick(["turned", "exchanged"]), f"reason {walk.rng.integers(1000)}"
    names = (walk.pick(["V3", "V7"]),) if fault == "turned" else ("V3", "V7")
    keep_verdicts(walk.scene, (fault, "wrong", names))
    if not any(pose.mounted for pose in own.poses):
        taken = [pose.name for pose in own.poses]
        name = next(n for k in range(1, 9) if (n := MOUNTED if k == 1 else f"{MOUNTED} {k}") not in taken)
        X_WN = next((pose.motion.X_WN for pose in own.poses if pose.name == "as scanned"), np.eye(4))
        own.poses.append(Saved(name, Motion({}, X_WN), "Where every element stood before the first correction.", True))
    own.records.append((fault, *names, reason))
    own.corrections.append(names)
    exchange_files(own, names)
    return done(op.put_right, reason=reason)


def put_back(walk: Walk) -> bool:
    own = walk.model.own
    if own.rig is None or not own.corrections:
        return False
    names, reason = own.corrections.pop(), f"reason {walk.rng.integers(1000)}"
    own.records.append(("put back", *names, reason))
    exchange_files(own, names)
    return done(op.put_back, reason=reason)


def exchange_files(own: Skeleton, names: tuple[str, ...]) -> None:
    files = [own.files[name] for name in names]
    own.files |= zip(names, reversed(files), strict=True)


def add_bone(walk: Walk) -> bool:
    """One vertebra more at the tail's end; how it hangs on is the core's own."""
    own = walk.model.own
    if own.rig is None or "V10" in own.files:
        return False
    reason = f"reason {walk.rng.integers(1000)}"
    done(op.add_bone, name="V10", way="scaled", source="V9", reason=reason)
    skeleton, record = walk.scene.document.skeleton, walk.scene.document.records[-1]
    joint = skeleton.joint_of("V10")
    own.joints["V10"] = (joint.moves, joint.reason)
    own.files["V10"] = skeleton.elements[skeleton.index("V10")].source.file
    own.records.append((record.action, *record.elements, reason))
    return True


def lose_rig(walk: Walk) -> bool:
    own = walk.model.own
    if own.rig is None:
        return False
    own.rig = None
    bpy.data.objects.remove(walk.scene.rig)
    bpy.context.view_layer.update()
    bpy.ops.ed.undo_push(message="Delete")
    return True


def build_rig(walk: Walk) -> bool:
    own = walk.model.own
    own.rig = own.rig or Motion()
    return done(op.build_rig)


def open_second(walk: Walk) -> bool:
    if len(walk.model.skeletons) > 1:
        return False
    done(op.open_document, filepath=str(walk.document))
    name = walk.scene.settings.document.name
    assert name not in walk.model.skeletons
    walk.model.skeletons[name], walk.model.active = read_model(walk.scene), name
    return True


def choose(walk: Walk) -> bool:
    name = walk.pick(list(walk.model.skeletons))
    walk.model.active = name
    return done(op.choose_skeleton, name=name)


def remove(walk: Walk) -> bool:
    if len(walk.model.skeletons) < 2:
        return False
    del walk.model.skeletons[walk.model.active]
    (walk.model.active,) = walk.model.skeletons
    return done(op.remove_skeleton)


WEIGHTS: dict[str, float] = {
    "undo": 5, "redo": 4, "turn": 4, "save": 4, "save_over": 1, "delete": 2, "rename": 2, "move": 2, "duplicate": 2,
    "note": 2, "restore": 3, "reset": 1, "stand": 1, "set_joint": 1, "put_right": 1, "put_back": 1,
    "add_bone": 0.5, "lose_rig": 0.4, "build_rig": 1, "open_second": 0.6, "choose": 1.5, "remove": 0.4,
}  # fmt: skip
