"""Arms and hands of the demo's made-up animal, left and right each uneven in its own way, at their true places."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "demo_blend"))
from strider.animal import make_bone_mesh, plan_bones
from strider.column import plan_column

from core_calcs.articulation.bones import Bone
from core_calcs.mesh.surface import Surface

SEED, DETAIL = 5, 0.6
STEMS = (
    "humerus", "ulna", "radius", "carpal 2", "metacarpal 2",
    "hand phalanx 2-1", "hand phalanx 2-2", "hand phalanx 2-3",
)  # fmt: skip
SIDES = ("left", "right")


@cache
def make_hands() -> dict[str, Surface]:
    """Surfaces where they stand [m], by name, of both sides."""
    every = plan_bones(plan_column())
    wanted = {f"{stem} {side}" for stem in STEMS for side in SIDES}
    return {
        bone.name: Surface(*make_bone_mesh(bone, SEED, i, DETAIL))
        for i, bone in enumerate(every)
        if bone.name in wanted
    }


def list_bones(holds: dict[str, str] | None = None, places: dict[str, np.ndarray] | None = None) -> list[Bone]:
    """All bones; holds: by name of the place, the bone that stands there; places: by place, X_WE of that bone."""
    surfaces, holds, places = make_hands(), holds or {}, places or {}
    return [
        Bone(name, "limb", "left" if name.endswith("left") else "right", surfaces[holds.get(name, name)],
             places.get(name, np.eye(4)))
        for name in surfaces
    ]  # fmt: skip
