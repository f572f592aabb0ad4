"""The element table in the scene: one entry a row, edited there and written to the file by an operator."""

from __future__ import annotations

import bpy

from ..translations.catalogues import CORE

SERIES = [
    ("skull", "Skull", "Skull, lower jaw, teeth"),
    ("cervical", "Cervical", "Vertebrae of the neck, numbered from the head"),
    ("dorsal", "Dorsal", "Vertebrae of the trunk, numbered from the neck"),
    ("sacral", "Sacral", "Sacrum and its vertebrae"),
    ("caudal", "Caudal", "Vertebrae of the tail, numbered from the sacrum, and chevrons"),
    ("ribs", "Ribs", "Ribs, numbered from the head"),
    ("girdle", "Girdle", "Shoulder blades, breastbone, pelvis"),
    ("limb", "Limb", "Arms, legs, hands, feet"),
    ("other", "Other", "Anything else"),
]
SIDES = [
    ("left", "Left", "On the animal's left"),
    ("middle", "Middle", "On the mid-plane"),
    ("right", "Right", "On the animal's right"),
]
ATTACHMENTS = [
    ("root", "Root", "Everything hangs on it: one element, best the sacrum"),
    ("column", "Column", "A joint with facets is looked for between it and its parent"),
    ("limb", "Limb", "A joint is looked for from the surfaces by which it and its parent face each other"),
    ("fixed", "Fixed", "It does not turn against its parent; say why"),
    ("left out", "Left Out", "It is no part of the skeleton; say why"),
]
ORIGINS = [
    ("scanned", "Scanned", "From the find itself"),
    ("mirrored", "Mirrored", "Made from its partner on the other side"),
    ("scaled", "Scaled", "Made from a neighbour in its series, larger or smaller"),
    ("sculpted", "Sculpted", "Made by hand"),
    ("composite", "Composite", "Put together from several"),
    ("deformed", "Deformed", "Its shape was changed"),
    ("not known", "Not Known", "Nobody has said"),
]


def mark_edited(element: CounterpoiseElement, _context: bpy.types.Context) -> None:
    """Remember that the list is no longer what the file says."""
    element.id_data.counterpoise.table_edited = True


def rename_element(element: CounterpoiseElement, context: bpy.types.Context) -> None:
    """Let what hangs on the element follow its new name."""
    if element.was and element.was != element.name:
        for other in element.id_data.counterpoise.elements:
            for name in ("parent", "also"):
                if getattr(other, name) == element.was:
                    setattr(other, name, element.name)
    element.was = element.name
    mark_edited(element, context)


class CounterpoiseElement(bpy.types.PropertyGroup):
    """One row of the element table, and what the survey said of its mesh."""

    name: bpy.props.StringProperty(name="Name", description="Name of the element, unique", update=rename_element)
    was: bpy.props.StringProperty(description="The name as it was before it was changed")
    file: bpy.props.StringProperty(name="File", description="Mesh file, relative to the folder of the scans")
    body: bpy.props.IntProperty(name="Body", description="Number of the body in the file; 0: the whole file")
    unit: bpy.props.StringProperty(name="Unit", description="Unit of the file")
    series: bpy.props.EnumProperty(
        name="Series",
        description="Part of the skeleton it belongs to",
        items=SERIES,
        translation_context=CORE,
        update=mark_edited,
    )
    position: bpy.props.IntProperty(
        name="Position", description="Place in its series, from 1; 0: none", min=0, update=mark_edited
    )
    side: bpy.props.EnumProperty(
        name="Side", description="Side of the body", items=SIDES, translation_context=CORE, update=mark_edited
    )
    parent: bpy.props.StringProperty(
        name="Parent",
        translation_context=CORE,
        description="The element it hangs on; empty for the root",
        update=mark_edited,
    )
    also: bpy.props.StringProperty(
        name="Also Follows",
        description="Of what is fixed and follows two, half and half, the second: a rib's other vertebra; else empty",
        update=mark_edited,
    )
    attachment: bpy.props.EnumProperty(
        name="Attachment",
        description="How it hangs on its parent",
        items=ATTACHMENTS,
        translation_context=CORE,
        update=mark_edited,
    )
    reason: bpy.props.StringProperty(name="Reason", description="Why it is fixed or left out", update=mark_edited)
    origin: bpy.props.EnumProperty(
        name="Origin",
        description="Where its shape comes from",
        items=ORIGINS,
        translation_context=CORE,
        update=mark_edited,
    )
    mesh: bpy.props.StringProperty(description="State of its mesh in words; empty where it was not surveyed")
    found: bpy.props.StringProperty(description="What the survey found by holding it against others, a line each")
    problem: bpy.props.StringProperty(description="What is to be looked at, one thing a line")


class CounterpoiseProblem(bpy.types.PropertyGroup):
    """Something to look at: its text is the name."""

    kind: bpy.props.StringProperty(description="What it is about, in a word: mesh, unit, place …")
    remedy: bpy.props.StringProperty(description="What to do about it; empty where its text says it all")
    element: bpy.props.StringProperty(description="The element concerned, or its neighbour; may be empty")


CLASSES = (CounterpoiseElement, CounterpoiseProblem)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
