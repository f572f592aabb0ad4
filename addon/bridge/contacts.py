"""What touches the ground: the elements in hand, and which feet the live pose lets off.

Which feet bear nothing is part of a pose, like its angles. Of the live pose the rig keeps it, on itself: so it comes
back with undo, and goes with the rig.
"""

from __future__ import annotations

from collections.abc import Sequence

import bpy

from ..core_calcs.skeleton.tree import Skeleton
from .rig import ELEMENT
from .skeletons import list_proxies

IDLE = "counterpoise_idle_feet"
"""On the rig: names of the feet that bear nothing in the live pose, one a line."""


def read_idle(rig: bpy.types.Object, skeleton: Skeleton) -> tuple[str, ...]:
    """Feet that bear nothing in the live pose; those that the skeleton no longer has are left out."""
    names = {foot.name for foot in skeleton.feet}
    return tuple(name for name in str(rig.get(IDLE, "")).split("\n") if name in names)


def write_idle(rig: bpy.types.Object, names: Sequence[str]) -> None:
    """Let these feet bear nothing in the live pose, and all others bear."""
    if names:
        rig[IDLE] = "\n".join(names)
    elif IDLE in rig:
        del rig[IDLE]


def list_chosen(context: bpy.types.Context) -> list[str]:
    """The elements in hand: in pose mode those of the rig's selected bones, else the one chosen in the list."""
    rig = context.scene.counterpoise.rig
    if context.mode == "POSE":
        bones = context.selected_pose_bones or ()
        return [bone.bone[ELEMENT] for bone in bones if bone.id_data == rig and ELEMENT in bone.bone]
    chosen = set(context.selected_objects or ())
    return [proxy[ELEMENT] for proxy in list_proxies(context.scene) if proxy in chosen]
