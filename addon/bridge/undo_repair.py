"""What Blender's undo may lose of a skeleton, put back.

Blender reads a changed datablock anew beside the one it had, swaps the two, and turns pointers to the
one into pointers to the other while those that the undo step kept are still old addresses (`BKE_lib_id_swap_full`
called by `read_libblock`). Where the new one happens to lie at such an address, the pointer that held it is lost. It
takes a datablock that undo or redo has removed and brought back, and happens without this add-on as well: see
tests/blender/plain_undo.py.
"""

from __future__ import annotations

import bpy

from .skeletons import MARK, Holder, list_holders, named_document


def put_back() -> None:
    """After undo or redo: documents, rigs, collections and parents that a scene's skeletons have lost."""
    for scene in bpy.data.scenes:
        for holder in list_holders(scene):
            if holder.mark:
                _put_back_collections(scene, holder.mark)
                _put_back_pointers(scene, holder)
                _hang_again(holder)


def _put_back_collections(scene: bpy.types.Scene, mark: str) -> None:
    for home in bpy.data.collections:
        if home.get(MARK) == mark and not home.users:
            scene.collection.children.link(home)


def _put_back_pointers(scene: bpy.types.Scene, holder: Holder) -> None:
    """A rig is looked for in the scene alone: one that somebody has deleted is not brought back."""
    if not isinstance(holder.document, bpy.types.Text):
        holder.document = next((text for text in bpy.data.texts if text.get(MARK) == holder.mark), None)
    if not isinstance(holder.rig, bpy.types.Object) or holder.rig.type != "ARMATURE":
        held = {other.rig for other in list_holders(scene)}  # a twin of it, appended or duplicated, has the same mark
        rigs = [thing for thing in scene.objects if thing.type == "ARMATURE" and thing not in held]
        own = (rig for rig in rigs if rig.get(MARK) == holder.mark and named_document(rig) in (None, holder.document))
        holder.rig = next(own, None)


def _hang_again(holder: Holder) -> None:
    """Proxies that name a bone but have no parent, or themselves. Who clears a parent clears the bone's name too."""
    rig = holder.rig
    for proxy in bpy.data.objects if rig is not None else ():
        if proxy.get(MARK) != holder.mark or proxy.parent not in (None, proxy):
            continue
        if (bone := proxy.parent_bone) in rig.data.bones:
            inverse = proxy.matrix_parent_inverse.copy()  # a new parent resets it
            proxy.parent, proxy.parent_type, proxy.parent_bone = rig, "BONE", bone
            proxy.matrix_parent_inverse = inverse
