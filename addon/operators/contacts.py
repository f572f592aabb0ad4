"""What touches the ground besides the feet, and what bears in the live pose."""

from __future__ import annotations

import bpy

from ..bridge.contacts import holds_choice, list_chosen, read_idle, write_idle
from ..bridge.figures import require_rig
from ..bridge.kept_document import keep_document, text_path, write_text
from ..bridge.keyframes import forget_idle
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.studies.contacts_by_hand import add_contact, propose_contact_name, remove_contact
from ..translations.phrases import list_few, say, tell
from .step import AS_GIVEN, NeedsRig, NeedsSkeleton

SELECT_FIRST = "Select what touches the ground: its bones in pose mode, or its element in the list"


class COUNTERPOISE_OT_add_contact(NeedsRig, bpy.types.Operator):
    """Let the elements of the selected bones touch the ground as one, a tail's end; or the one chosen in the list"""

    bl_idname = "counterpoise.add_contact"
    bl_label = "Add Contact"

    name: bpy.props.StringProperty(
        name="Name", description="Of what touches the ground; empty: after its elements", options=AS_GIVEN
    )

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        return super().name_lack(context) or ("" if holds_choice(context) else SELECT_FIRST)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        kept = keep_document(context.scene)
        self.name = propose_contact_name(kept.document.skeleton, list_chosen(context, kept))
        return context.window_manager.invoke_props_dialog(self)

    def draw(self, context: bpy.types.Context) -> None:
        chosen = list_chosen(context, keep_document(context.scene))
        self.layout.use_property_split, self.layout.use_property_decorate = True, False
        self.layout.label(text=list_few(chosen), icon="BONE_DATA")
        self.layout.prop(self, "name")

    def work(self, context: bpy.types.Context) -> str:
        kept, text = keep_document(context.scene), context.scene.counterpoise.document
        document, chosen = kept.document, list_chosen(context, kept)
        name = self.name.strip() or propose_contact_name(document.skeleton, chosen)
        folder = locate_mesh_folder(document, text_path(text))
        write_text(text, add_contact(document, name, chosen, folder))
        return say("{name} may touch the ground: it bears where it comes near enough", name=name)


class COUNTERPOISE_OT_remove_contact(NeedsSkeleton, bpy.types.Operator):
    """Let this no longer touch the ground: a foot that was proposed wrongly, a contact that was added"""

    bl_idname = "counterpoise.remove_contact"
    bl_label = "Remove Contact"

    name: bpy.props.StringProperty(name="Contact", description="Name of a foot or contact", options=AS_GIVEN)

    def work(self, context: bpy.types.Context) -> str:
        document, text = keep_document(context.scene).document, context.scene.counterpoise.document
        changed, rig = remove_contact(document, self.name), context.scene.counterpoise.rig
        write_text(text, changed)
        if rig is not None:  # one of that name that is added later bears
            write_idle(rig, read_idle(rig, changed.skeleton))
            forget_idle(rig, self.name)
        return say("{name} no longer touches the ground, in any pose", name=tell(self.name))


class COUNTERPOISE_OT_let_bear(NeedsRig, bpy.types.Operator):
    """Let this foot or contact bear in the live pose where it touches the ground, or bear nothing"""

    bl_idname = "counterpoise.let_bear"
    bl_label = "Let Bear"

    name: bpy.props.StringProperty(name="Contact", description="Name of a foot or contact", options=AS_GIVEN)
    bears: bpy.props.BoolProperty(
        name="Bears", description="Whether it bears where it touches", default=True, options=AS_GIVEN
    )

    def work(self, context: bpy.types.Context) -> str:
        skeleton, rig = keep_document(context.scene).document.skeleton, require_rig(context.scene)
        skeleton.foot_index(self.name)
        others = [name for name in read_idle(rig, skeleton) if name != self.name]
        write_idle(rig, others if self.bears else [*others, self.name])
        bears = say("{name} bears where it touches in the live pose", name=tell(self.name))
        return bears if self.bears else say("{name} bears nothing in the live pose", name=tell(self.name))


CLASSES = (COUNTERPOISE_OT_add_contact, COUNTERPOISE_OT_remove_contact, COUNTERPOISE_OT_let_bear)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
