"""What touches the ground: the elements in hand, and which feet the live pose lets off.

Which feet bear nothing is part of a pose, like its angles. Of the live pose the rig keeps it, on itself: so it comes
back with undo, and goes with the rig.
"""

from __future__ import annotations

from collections.abc import Sequence

import bpy

from ..core_calcs.skeleton.tree import Skeleton
from .kept_document import KeptDocument
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


def holds_choice(context: bpy.types.Context) -> bool:
    """Whether a bone of the rig is selected, in pose mode, or else an element."""
    return bool(chosen_bones(context) if context.mode == "POSE" else _chosen_proxies(context))


def list_chosen(context: bpy.types.Context, kept: KeptDocument) -> list[str]:
    """The elements in hand, in the skeleton's order.

    In pose mode those of the rig's selected bones with all that rides on them (a chevron on its vertebra, a hand of one
    piece), else the one chosen in the list.
    """
    elements = [element.name for element in kept.document.skeleton.elements]
    if context.mode != "POSE":
        chosen = _chosen_proxies(context)
        return [name for name in elements if name in chosen]
    chosen, bones = chosen_bones(context), kept.plan.bones
    carriers = [bones[row].element for row in kept.plan.turners]
    return [name for name, carrier in zip(elements, carriers, strict=True) if carrier in chosen]


def chosen_bones(context: bpy.types.Context) -> set[str]:
    """Elements whose joints the selected bones of the rig turn, in pose mode."""
    rig = context.scene.counterpoise.rig
    bones = context.selected_pose_bones or ()
    return {bone.bone[ELEMENT] for bone in bones if bone.id_data == rig and ELEMENT in bone.bone}


def _chosen_proxies(context: bpy.types.Context) -> set[str]:
    chosen = set(context.selected_objects or ())
    return {proxy[ELEMENT] for proxy in list_proxies(context.scene) if proxy in chosen}
