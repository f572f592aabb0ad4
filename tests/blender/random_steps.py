"""Random steps in a scene, each done by its operator and by a plain model beside it; the history keeps both."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from pathlib import Path

import bpy
import numpy as np
import random_document_steps as documents
import random_pose_steps as poses
import random_scene_steps as scene_steps
from scenes import Scene
from walk_model import Model, assert_same, read_model, record


class Walk:
    """A scene, the model of it, and the history of both; folder: for what is saved, beside the document."""

    def __init__(self, scene: Scene, document: Path, seed: int) -> None:
        self.scene, self.document, self.rng = scene, document, np.random.default_rng(seed)
        self.folder, self.worst_rad, self.positions = document.parent, 0.0, 0
        for name in ("one", "two/deeper", "copies"):
            (self.folder / name).mkdir(parents=True, exist_ok=True)
        own = read_model(scene)
        self.model = Model({scene.settings.document.name: own}, scene.settings.document.name)
        self.begin()

    def begin(self) -> None:
        """A history that starts here, as after opening a file."""
        self.scene.part("bridge.pose_rows").mirror_poses(bpy.context.scene)
        bpy.ops.ed.undo_push(message="Begin")
        self.history = [(deepcopy(self.model), record())]
        self.position = 0

    def pick(self, names: list[str]) -> str:
        return str(self.rng.choice(names))

    def pick_pose(self) -> str:
        return self.pick([pose.name for pose in self.model.own.poses])

    def step(self) -> tuple[str, bool]:
        """A random step: which, and whether it went through the history."""
        shares = np.array(list(WEIGHTS.values())) / sum(WEIGHTS.values())
        kind = list(WEIGHTS)[self.rng.choice(len(WEIGHTS), p=shares)]
        if isinstance(kind, str):
            return kind, self.travel(kind)
        if kind(self):
            del self.history[self.position + 1 :]
            self.history.append((deepcopy(self.model), record()))
            self.position += 1
            self.positions += 1
        return kind.__name__, False

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


WEIGHTS: dict[str | Callable[[Walk], bool], float] = {
    "undo": 5, "redo": 4,
    poses.turn: 3, poses.turn_joint: 2, poses.use_tool: 3, poses.save: 4, poses.save_over: 1,
    poses.delete: 2, poses.rename: 2,
    poses.move: 2, poses.duplicate: 2, poses.note: 2, poses.restore: 3, poses.reset: 1, poses.stand: 1,
    poses.let_bear: 1, poses.tick: 1,
    documents.set_joint: 1, documents.put_right: 1, documents.put_back: 1, documents.add_bone: 0.5,
    documents.set_site: 0.5, documents.set_wind: 0.5, documents.set_factors: 0.5, documents.allow_clearance: 0.3,
    documents.set_footing: 0.7, documents.act: 1, documents.cast: 0.7, documents.weigh: 0.5, documents.lay_steel: 0.5,
    documents.touch: 0.7, documents.place: 0.7,
    scene_steps.lose_rig: 0.4, scene_steps.build_rig: 1, scene_steps.lose_proxy: 0.3, scene_steps.open_second: 0.6,
    scene_steps.choose: 1.5, scene_steps.remove: 0.4, scene_steps.rename_things: 0.5, scene_steps.move_parent: 0.5,
    scene_steps.change_frame: 0.3, scene_steps.reopen: 0.5, scene_steps.save_copy: 0.4,
    scene_steps.switch_off_and_on: 0.2,
}  # fmt: skip
