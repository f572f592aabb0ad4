"""Random steps in a scene, each done by its operator and by a plain model beside it; the history keeps both."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path

import bpy
import numpy as np
import random_column_steps as columns
import random_document_steps as documents
import random_list_steps as lists
import random_picture_steps as pictures
import random_pose_steps as poses
import random_scene_steps as scene_steps
import random_tool_steps as tools
from scenes import Scene
from walk_model import Model, assert_same, read_model, record


class Walk:
    """A scene, the model of it, and the history of both.

    document, column : files of the animal and of the column, to be opened beside it
    folder : for what is saved, beside the document; taken : how often each step was taken
    """

    def __init__(self, scene: Scene, document: Path, column: Path, seed: int) -> None:
        self.scene, self.document, self.column, self.rng = scene, document, column, np.random.default_rng(seed)
        self.taken: Counter[str] = Counter()
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

    def pick_angle(self) -> float:
        """In single precision, as bones hold it; the column's joints allow it whatever they were searched with."""
        most = 0.15 if self.model.own.is_animal else 0.02
        return float(np.float32(self.rng.uniform(-most, most)))

    def step(self) -> tuple[str, bool]:
        """A random step: which, and whether it went through the history."""
        shares = np.array(list(WEIGHTS.values())) / sum(WEIGHTS.values())
        kind = list(WEIGHTS)[self.rng.choice(len(WEIGHTS), p=shares)]
        if isinstance(kind, str):
            return kind, self.travel(kind)
        if self.model.own.keyed is not None and kind in POSING:
            return kind.__name__, False  # the keyframes pose the rig, and what is not keyed is lost
        if kind(self):
            self.taken[kind.__name__] += 1
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


POSING = (
    poses.turn, poses.restore, poses.reset, poses.stand, tools.turn_joint, tools.use_tool, documents.set_joint,
    documents.put_right, documents.put_back, documents.add_bone, documents.place, columns.search_joint,
    columns.set_discs, columns.mark_facet, columns.assemble,
)  # fmt: skip
"""What writes into the bones."""

WEIGHTS: dict[str | Callable[[Walk], bool], float] = {
    "undo": 5, "redo": 4,
    poses.turn: 3, poses.save: 4, poses.save_over: 1, poses.delete: 2, poses.rename: 2,
    poses.move: 2, poses.duplicate: 2, poses.note: 2, poses.restore: 3, poses.reset: 1, poses.stand: 1,
    poses.let_bear: 1,
    tools.turn_joint: 2, tools.use_tool: 4,
    lists.tick: 2, lists.sort: 1, lists.keep_order: 0.6, lists.draw_pictures: 0.5, lists.key_poses: 2,
    pictures.add_reference: 0.5, pictures.remove_reference: 0.4,
    documents.set_joint: 1, documents.put_right: 1, documents.put_back: 1, documents.add_bone: 0.5,
    documents.set_site: 0.5, documents.set_wind: 0.5, documents.set_factors: 0.5, documents.allow_clearance: 0.3,
    documents.set_footing: 0.7, documents.act: 1, documents.cast: 0.7, documents.weigh: 0.5, documents.lay_steel: 0.5,
    documents.touch: 0.7, documents.place: 0.7,
    columns.search_joint: 0.4, columns.set_discs: 0.4, columns.mark_facet: 0.4, columns.assemble: 0.4,
    scene_steps.lose_rig: 0.4, scene_steps.build_rig: 1, scene_steps.lose_proxy: 0.3, scene_steps.open_second: 0.8,
    scene_steps.choose: 1.5, scene_steps.remove: 0.3, scene_steps.rename_things: 0.5, scene_steps.move_parent: 0.5,
    scene_steps.change_frame: 0.6, scene_steps.reopen: 0.5, scene_steps.save_copy: 0.4,
    scene_steps.switch_off_and_on: 0.2,
}  # fmt: skip
"""How often each is taken. The column's steps search joints anew for seconds each: seldom, or they are all there is."""
