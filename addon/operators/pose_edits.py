"""Whole poses changed: mirrored, one side copied to the other, blended, a chain to neutral, all brought into range."""

from __future__ import annotations

import bpy
import numpy as np

from ..bridge.kept_document import keep_document
from ..bridge.posing_text import word_changes, word_slip
from ..bridge.rig_in_hand import RigInHand, active_element, angles_of, pick_chain
from ..bridge.units import scene_units
from ..core_calcs.document.editing import find_pose
from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.posing_edits import blend_poses, copy_side, mirror_pose, nearest_allowed, to_neutral
from ..translations.catalogues import CORE
from ..translations.phrases import say, tell
from .posing_tool import FINE, Posed, PosingTool, mouse_of
from .reaching import list_held
from .step import AS_GIVEN

SIDES = [
    ("LEFT_TO_RIGHT", "Left to Right", "The right limbs are posed as the left ones"),
    ("RIGHT_TO_LEFT", "Right to Left", "The left limbs are posed as the right ones"),
]


class PoseEdit(PosingTool):
    """Mixed into a step that makes one pose of another, without the mouse."""

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        return self.execute(context)

    def solve(self, context: bpy.types.Context, hand: RigInHand) -> Posed:
        pose, told = self.edit(context, hand)
        return Posed(pose, (), (), "holds", told)

    def edit(self, context: bpy.types.Context, hand: RigInHand) -> tuple[Pose, str]:
        """The pose, and what is reported."""
        raise NotImplementedError


class COUNTERPOISE_OT_mirror_pose(PoseEdit, bpy.types.Operator):
    """Exchange left and right: the pose is mirrored where it stands"""

    bl_idname = "counterpoise.mirror_pose"
    bl_label = "Mirror Pose"

    def edit(self, _context: bpy.types.Context, hand: RigInHand) -> tuple[Pose, str]:
        pose = mirror_pose(hand.kept.posing, hand.begun)
        return pose, count_changed(hand.begun, pose)


class COUNTERPOISE_OT_flip_side(PoseEdit, bpy.types.Operator):
    """Pose the limbs of one side as those of the other"""

    bl_idname = "counterpoise.flip_side"
    bl_label = "Flip Side"

    direction: bpy.props.EnumProperty(name="Direction", description="From which side to which", items=SIDES)

    def edit(self, _context: bpy.types.Context, hand: RigInHand) -> tuple[Pose, str]:
        side = "left" if self.direction == "LEFT_TO_RIGHT" else "right"
        posing = hand.kept.posing
        sides = {element.name: element.side for element in posing.skeleton.elements}
        limbs = [chain for chain in posing.chains if chain.kind == "limb"]
        own = [child for chain in limbs for child in chain.children if sides[child] == side]
        if not own:
            raise SkeletonError(
                posing.skeleton.name,
                "no limb is on the left" if side == "left" else "no limb is on the right",
                "give the elements their sides",
            )
        pose = copy_side(posing, hand.begun, own)
        return pose, count_changed(hand.begun, pose)


class COUNTERPOISE_OT_neutral_chain(PoseEdit, bpy.types.Operator):
    """Bring the neck, trunk, tail or limb of the active bone back to neutral"""

    bl_idname = "counterpoise.neutral_chain"
    bl_label = "Chain to Neutral"

    chain: bpy.props.StringProperty(
        name="Chain",
        translation_context=CORE,
        description="neck, trunk, tail or a limb; empty: the one of the active bone",
        options=AS_GIVEN,
    )
    share: bpy.props.FloatProperty(
        name="Share", description="How much of the way", min=0.0, max=1.0, default=1.0, options=AS_GIVEN
    )

    def edit(self, context: bpy.types.Context, hand: RigInHand) -> tuple[Pose, str]:
        own = pick_chain(hand, self.chain, "" if self.chain else active_element(context))
        self.chain = own.name
        pose = to_neutral(hand.kept.posing, hand.begun, own.name, self.share)
        return pose, f"{tell(own.name)}: {count_changed(hand.begun, pose)}"


class COUNTERPOISE_OT_nearest_allowed(PoseEdit, bpy.types.Operator):
    """Bring every joint that is outside its range to the nearest attitude that is allowed, and say what has changed"""

    bl_idname = "counterpoise.nearest_allowed"
    bl_label = "Nearest Allowed Pose"

    hold_feet: bpy.props.BoolProperty(
        name="Hold the Feet",
        description="The feet that stand on the ground go back to where they stood",
        options=AS_GIVEN,
    )

    def edit(self, _context: bpy.types.Context, hand: RigInHand) -> tuple[Pose, str]:
        found = nearest_allowed(hand.kept.posing, hand.begun, list_held(hand) if self.hold_feet else ())
        slip = word_slip(found.feet, scene_units(hand.scene)) if found.feet is not None else ()
        return found.pose, "; ".join((word_changes(found.changes), *slip))


class COUNTERPOISE_OT_blend_pose(PosingTool, bpy.types.Operator):
    """Blend the live pose with the saved one that is selected: the mouse says how much of the way, right is more"""

    bl_idname = "counterpoise.blend_pose"
    bl_label = "Blend Poses"
    bl_options = {"REGISTER", "UNDO", "BLOCKING"}  # noqa: RUF012  Blender wants a plain set

    keys = "Click: done    Esc: as it was    Shift: fine    Right: nearer to the saved pose"

    name: bpy.props.StringProperty(
        name="Pose", description="Name of the saved pose; empty: the one selected in the list", options=AS_GIVEN
    )
    share: bpy.props.FloatProperty(
        name="Share", description="How much of the way to it", min=0.0, max=1.0, default=0.5, options=AS_GIVEN
    )

    def solve(self, _context: bpy.types.Context, hand: RigInHand) -> Posed:
        other = self.find_other(hand)
        pose = blend_poses(hand.kept.posing, hand.begun, other, self.share)
        lines = (other.name, say("{percent} % of the way", percent=f"{100 * self.share:.0f}"))
        return Posed(pose, (), lines, "holds", ": ".join(lines))

    def find_other(self, hand: RigInHand) -> Pose:
        """The saved pose; SkeletonError where there is none, or it turns no joint."""
        settings = hand.scene.counterpoise
        if not self.name and not 0 <= settings.pose_index < len(settings.poses):
            raise SkeletonError("blend", "no saved pose is selected", "save one, or select one in the list (step 5)")
        self.name = self.name or settings.poses[settings.pose_index].name
        other = find_pose(keep_document(hand.scene).document, self.name)
        if other.mounted:
            raise SkeletonError(other.name, "it turns no joint: it tells where elements stood", "choose another pose")
        return other

    def grasp(self, _context: bpy.types.Context, event: bpy.types.Event, _hand: RigInHand) -> None:
        self.share, self.gone, self.mouse = 0.0, 0.0, mouse_of(event)

    def drag(self, context: bpy.types.Context, event: bpy.types.Event, _hand: RigInHand) -> None:
        mouse = mouse_of(event)
        step = float(mouse[0] - self.mouse[0]) / (0.5 * context.region.width)
        self.gone = min(max(self.gone + step * (FINE if event.shift else 1.0), 0.0), 1.0)
        self.share, self.mouse = self.gone, mouse


def count_changed(before: Pose, after: Pose) -> str:
    """How many joints stand otherwise than before."""
    names = {*before.angles_rad, *after.angles_rad}
    count = sum(not np.allclose(angles_of(before, name), angles_of(after, name), atol=1e-9) for name in names)
    return say("1 joint turned") if count == 1 else say("{count} joints turned", count=count)


CLASSES = (
    COUNTERPOISE_OT_mirror_pose,
    COUNTERPOISE_OT_flip_side,
    COUNTERPOISE_OT_neutral_chain,
    COUNTERPOISE_OT_nearest_allowed,
    COUNTERPOISE_OT_blend_pose,
)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
