"""Joints by hand: what the facets do not give, or gave wrongly, the user sets, with a reason."""

from __future__ import annotations

from collections.abc import Sequence

import bpy
import numpy as np

from ..bridge.figures import read_scene_pose
from ..bridge.kept_document import keep_document
from ..bridge.rig import ELEMENT
from ..bridge.scene import exchange_document
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.skeleton.joint import AXES, Joint
from ..core_calcs.studies.joints_by_hand import fix_document_joint, keep_turning, set_document_joint, square_axes
from ..translations.catalogues import CORE
from ..translations.phrases import say
from .quantities import ask_range
from .step import AS_GIVEN, NeedsRig, Step

ROUNDING = {"flexion_axis": 5e-5, "long_axis": 5e-5}
FINE_ROUNDING = 5e-6
"""Parts of a direction, and metres and radians, below which a figure is shown as nothing."""


class COUNTERPOISE_OT_set_joint(NeedsRig, Step, bpy.types.Operator):
    """Set a joint's centre, axes and limits by hand, or fix it. What is not given stays as it is"""

    bl_idname = "counterpoise.set_joint"
    bl_label = "Set Joint by Hand"

    child: bpy.props.StringProperty(name="Element", description="The element that hangs on the joint", options=AS_GIVEN)
    fixed: bpy.props.BoolProperty(
        name="Fixed", translation_context=CORE, description="The joint does not turn", default=False, options=AS_GIVEN
    )
    centre: bpy.props.FloatVectorProperty(
        name="Centre", description="In metres, world of the neutral articulation", precision=5, options=AS_GIVEN
    )
    flexion_axis: bpy.props.FloatVectorProperty(
        name="Flexion Axis", description="Direction, world of the neutral articulation", precision=4, options=AS_GIVEN
    )
    long_axis: bpy.props.FloatVectorProperty(
        name="Long Axis",
        description="Along the child, away from the parent; it gives way to the flexion axis",
        precision=4,
        options=AS_GIVEN,
    )
    flexion: ask_range("Flexion")
    lateral: ask_range("Lateral")
    axial: ask_range("Axial")
    senses: bpy.props.IntVectorProperty(
        name="Sense of Rotation",
        description="1 or -1 for flexion, lateral, axial: the positive way, so that both sides move alike",
        min=-1,
        max=1,
        default=(1, 1, 1),
        options=AS_GIVEN,
    )
    reason: bpy.props.StringProperty(
        name="Reason", description="Why, in your words: it stays with the joint", options=AS_GIVEN
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        bone = context.active_pose_bone
        if not self.child and bone is not None and context.object == context.scene.counterpoise.rig:
            self.child = bone.bone.get(ELEMENT, "")
        joint = find_joint(context, self.child)
        if joint is not None:
            self.fill(joint)
        return context.window_manager.invoke_props_dialog(self, width=420)

    def fill(self, joint: Joint) -> None:
        """Show what the joint has now."""
        for name, i in (("centre", 3), ("flexion_axis", 0), ("long_axis", 1)):
            setattr(self, name, drop_rounding(name, joint.X_WJ[:3, i]))
        self.fixed, self.senses = not joint.moves, joint.senses
        for name, limit in zip(AXES, joint.limits or (), strict=False):
            setattr(self, name, drop_rounding(name, [limit.low.angle_rad, limit.high.angle_rad]))

    def work(self, context: bpy.types.Context) -> str:
        kept = keep_document(context.scene)
        live = read_scene_pose(context, kept)
        document = kept.document
        fixing = self.fixed
        changed = fix_document_joint(document, self.child, self.reason) if fixing else self.set_joint(document)
        exchange_document(context, changed, keep_turning(live, changed.skeleton))
        if fixing:
            return say("Joint of {element} fixed", element=self.child)
        return say("Joint of {element} set", element=self.child)

    def set_joint(self, document: SkeletonDocument) -> SkeletonDocument:
        """The document with the joint as the user gave it."""
        joint = document.skeleton.joint_of(self.child)
        centre = self.given("centre", joint.X_WJ[:3, 3])
        senses = tuple(self.senses) if self.properties.is_property_set("senses") else joint.senses
        return set_document_joint(
            document, self.child, centre, self.axes(joint), self.limits(joint), self.reason, senses
        )

    def given(self, name: str, present: np.ndarray) -> np.ndarray:
        """A vector as the user gave it; the present one, in full precision, where that was not changed."""
        shown = np.array(getattr(self, name), dtype=np.float32)
        same = not self.properties.is_property_set(name) or np.array_equal(shown, drop_rounding(name, present))
        return np.asarray(present if same else shown, float)

    def axes(self, joint: Joint) -> np.ndarray:
        """The joint's axes, those given made square."""
        x, y = self.given("flexion_axis", joint.X_WJ[:3, 0]), self.given("long_axis", joint.X_WJ[:3, 1])
        if np.array_equal(x, joint.X_WJ[:3, 0]) and np.array_equal(y, joint.X_WJ[:3, 1]):
            return np.array(joint.X_WJ[:3, :3])
        return square_axes(joint.child, x, y)

    def limits(self, joint: Joint) -> list[tuple[float, float]]:
        """The limits given; the present ones, or (0, 0), where not."""
        found = []
        for i, name in enumerate(AXES):
            present = (0.0, 0.0)
            if joint.limits is not None:
                present = (joint.limits[i].low.angle_rad, joint.limits[i].high.angle_rad)
            low, high = self.given(name, np.array(present))
            found.append((float(low), float(high)))
        return found


def drop_rounding(name: str, values: Sequence[float] | np.ndarray) -> np.ndarray:
    """A property's values (n,) as shown, in single precision: what is nothing but rounding is 0, not -0.0000."""
    shown = np.array(values, np.float32)
    shown[np.abs(shown) < ROUNDING.get(name, FINE_ROUNDING)] = 0
    return shown


def find_joint(context: bpy.types.Context, child: str) -> Joint | None:
    """The joint of that child in the scene's document, if there is one."""
    joints = keep_document(context.scene).document.skeleton.joints
    return next((joint for joint in joints if joint.child == child), None)


CLASSES = (COUNTERPOISE_OT_set_joint,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
