"""The scene's skeletons: which is active, and a word where the user has another one's rig in hand."""

from __future__ import annotations

import bpy

from ..bridge.strays import find_sharer, list_strays
from ..translations.phrases import capitalise, say, tell
from .tab import write_wrapped


def draw_skeletons(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """One row for each skeleton; a click makes it the active one."""
    settings = context.scene.counterpoise
    if (library := context.scene.library) is not None:
        told = "This scene is linked from {file}: it can be looked at. Open that file to work in it."
        write_wrapped(layout, context, say(told, file=library.filepath), "LINKED")
    names = [resting.document.name for resting in settings.resting if resting.document is not None]
    if settings.document is not None:
        names.append(settings.document.name)
    column = layout.column(align=True)
    for name in sorted(names):
        row = column.row()
        active = settings.document is not None and name == settings.document.name
        choice = row.row()
        choice.alignment = "LEFT"
        icon = "RADIOBUT_ON" if active else "RADIOBUT_OFF"
        choice.operator("counterpoise.choose_skeleton", text=name, icon=icon, emboss=False).name = name
        if active:
            row.operator("counterpoise.remove_skeleton", text="", icon="TRASH")


def draw_strays(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """What is in the file and not in the scene's hands; a document that is gone, or another scene's as well."""
    settings = context.scene.counterpoise
    if settings.mark and settings.document is None:
        told = (
            "The text block with the skeleton's document was deleted. Ctrl Z brings it back; else open the skeleton "
            "document as it was saved."
        )
        write_wrapped(layout, context, told, "ERROR")
    if settings.document is not None and (other := find_sharer(context.scene)) is not None:
        box = layout.box()
        told = "The scene {scene} has a rig of the same document: what is changed here puts it out of step."
        write_wrapped(box, context, say(told, scene=other.name), "ERROR")
        box.operator("counterpoise.part_documents", icon="DUPLICATE")
    for stray in list_strays(context.scene):
        box = layout.box()
        if stray.lack is not None:
            what, remedy = stray.lack
            write_wrapped(box, context, f"{stray.name}: {tell(what)}. {capitalise(tell(remedy))}.", "INFO")
            continue
        told = "{name} is a skeleton in this file that the scene does not hold yet."
        write_wrapped(box, context, say(told, name=stray.name), "INFO")
        box.operator("counterpoise.take_in_skeleton", icon="IMPORT").name = stray.name


def draw_hint(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """Where the rig in hand is another skeleton's: say so, and offer to choose that."""
    rig = context.object
    for resting in context.scene.counterpoise.resting if rig is not None else ():
        if resting.rig == rig and resting.document is not None:
            write_wrapped(layout, context, "The rig in hand belongs to another skeleton.", "INFO")
            choice = layout.operator(
                "counterpoise.choose_skeleton", text=say("Choose {skeleton}", skeleton=resting.document.name)
            )
            choice.name = resting.document.name
