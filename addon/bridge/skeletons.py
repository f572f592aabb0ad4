"""The skeletons of a scene: one is active, the others rest; what belongs to each, choosing and removing.

A skeleton's text block is its identity. It carries a mark of its own, and so does everything made for it, so that it is
told apart even where the rigs are gone and where undo loses a pointer; what older versions made carries none.
"""

from __future__ import annotations

from collections.abc import Iterable
from uuid import uuid4

import bpy

from ..core_calcs.spatial.errors import SkeletonError
from ..properties.settings import CounterpoiseSettings
from ..properties.skeletons import CounterpoiseRestingSkeleton
from .kept_document import list_texts
from .rig import ELEMENT

Holder = CounterpoiseSettings | CounterpoiseRestingSkeleton

MARK = "counterpoise_mark"
"""On a skeleton's text block, rig, proxies and collection, the same on all."""

DOCUMENT = "counterpoise_document"
"""On a rig: its text block, which goes along where the rig is appended, linked or copied."""


def mark_things(text: bpy.types.Text, things: Iterable[bpy.types.Object | bpy.types.Collection]) -> None:
    """Say of what was made for a skeleton that it is its own."""
    for thing in things:
        thing[MARK] = _mark_of(text)
        if isinstance(thing, bpy.types.Object) and thing.type == "ARMATURE":
            thing[DOCUMENT] = text


def named_document(rig: bpy.types.Object) -> bpy.types.Text | None:
    """The text block that a rig names as its document."""
    named = rig.get(DOCUMENT)
    return named if isinstance(named, bpy.types.Text) else None


def list_holders(scene: bpy.types.Scene) -> list[Holder]:
    """What holds the scene's skeletons: its settings, and the entries of those that rest."""
    return [scene.counterpoise, *scene.counterpoise.resting]


def hold_skeleton(holder: Holder, text: bpy.types.Text | None, rig: bpy.types.Object | None) -> None:
    """Let the scene's settings, or an entry of those that rest, hold a skeleton; nothing where text is None."""
    holder.document, holder.rig, holder.mark = text, rig, _mark_of(text) if text is not None else ""


def add_collection(scene: bpy.types.Scene, name: str, text: bpy.types.Text) -> bpy.types.Collection:
    """A collection of the scene for a skeleton's rig and proxies."""
    collection = bpy.data.collections.new(name)
    scene.collection.children.link(collection)
    mark_things(text, [collection])
    return collection


def list_proxies(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """The proxies of the active skeleton: those that hang on its rig, or its own loose ones where it is gone."""
    mark, rig = scene.counterpoise.mark, scene.counterpoise.rig
    return [
        thing
        for thing in scene.objects
        if thing.type == "MESH" and ELEMENT in thing and thing.parent == rig and thing.get(MARK) in (None, mark)
    ]


def list_loose(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """Proxies of the active skeleton that somebody has taken off its rig; those of a rig's duplicate hang on that."""
    mark = scene.counterpoise.mark
    own = (thing for thing in scene.objects if thing.type == "MESH" and ELEMENT in thing and mark)
    return [one for one in own if one.get(MARK) == mark and (one.parent is None or one.parent.type != "ARMATURE")]


def rest_active(scene: bpy.types.Scene) -> None:
    """Put the active skeleton beside the others, so that another can take its place."""
    settings = scene.counterpoise
    if settings.document is not None:
        hold_skeleton(settings.resting.add(), settings.document, settings.rig)
    hold_skeleton(settings, None, None)


def choose_skeleton(scene: bpy.types.Scene, name: str) -> None:
    """Make the skeleton in the text block of that name the active one; SkeletonError where the scene has none."""
    settings = scene.counterpoise
    if settings.document is not None and settings.document.name == name:
        return
    for i, resting in enumerate(settings.resting):
        if resting.document is not None and resting.document.name == name:
            text, rig = resting.document, resting.rig
            settings.resting.remove(i)
            rest_active(scene)
            hold_skeleton(settings, text, rig)
            return
    known = ", ".join(text.name for text in list_texts(scene)) or "none"
    raise SkeletonError(name, "the scene holds no such skeleton", f"it holds: {known}")


def remove_active(scene: bpy.types.Scene) -> None:
    """Take the active skeleton out: rig, proxies, its collection where that is empty then, and the text block.

    What else hangs on the rig stays where it is. What another scene has as well stays there. The next of the scene's
    skeletons becomes the active one.
    """
    settings = scene.counterpoise
    text, rig = settings.document, settings.rig
    homes = [c for c in scene.collection.children_recursive if c.get(MARK) == settings.mark]
    if any(
        rig == holder.rig is not None for other in bpy.data.scenes if other != scene for holder in list_holders(other)
    ):
        _unlink_here(scene, homes, [*list_proxies(scene), rig])
    else:
        _remove_things(homes, list_proxies(scene), rig)
    hold_skeleton(settings, None, None)
    if not any(text in list_texts(other) for other in bpy.data.scenes) and not _is_named(text):
        bpy.data.texts.remove(text)
    if texts := list_texts(scene):
        choose_skeleton(scene, texts[0].name)


def _is_named(text: bpy.types.Text) -> bool:
    """Whether a rig of the file still names a document as its own."""
    return any(named_document(thing) == text for thing in bpy.data.objects if thing.type == "ARMATURE")


def _unlink_here(scene: bpy.types.Scene, homes: list[bpy.types.Collection], things: list[bpy.types.Object]) -> None:
    """Out of this scene only, as far as it has its own list of them."""
    for home in homes:
        if home.name in scene.collection.children:
            scene.collection.children.unlink(home)
    for thing in things:
        if thing.name in scene.collection.objects:
            scene.collection.objects.unlink(thing)


def _remove_things(
    homes: list[bpy.types.Collection], proxies: list[bpy.types.Object], rig: bpy.types.Object | None
) -> None:
    for thing in proxies:
        _remove_object(thing)
    if rig is not None:
        _let_go(rig)
        _remove_object(rig)
    for home in homes:
        if not home.objects and not home.children:
            bpy.data.collections.remove(home)


def _let_go(rig: bpy.types.Object) -> None:
    for child in rig.children:
        place = child.matrix_world.copy()
        child.parent = None
        child.matrix_world = place


def _remove_object(thing: bpy.types.Object) -> None:
    """Remove an object with its mesh or armature, and with materials that nothing uses any more."""
    data, kind = thing.data, bpy.data.armatures if thing.type == "ARMATURE" else bpy.data.meshes
    materials = [] if thing.type == "ARMATURE" else list(data.materials)
    bpy.data.objects.remove(thing)
    if not data.users:
        kind.remove(data)
    for material in materials:
        if material is not None and not material.users:
            bpy.data.materials.remove(material)


def _mark_of(text: bpy.types.Text) -> str:
    """Of a text block, which gets one if it has none."""
    if MARK not in text:
        text[MARK] = uuid4().hex
    return str(text[MARK])
