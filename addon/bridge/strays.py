"""Skeletons that are in the file but not in the scene's hands: appended, linked, duplicated, or left by another scene.

A rig names its document, so that whoever appends or copies the rig has the document too. A skeleton is taken in with a
document of its own: two rigs that share one would be out of step with the first joint that is changed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from uuid import uuid4

import bpy

from ..core_calcs.spatial.errors import SkeletonError
from .kept_document import RELATIVE_TO, text_path
from .rig import ELEMENT
from .skeletons import MARK, hold_skeleton, list_holders, mark_things, named_document, rest_active

LINKED = (
    "it is linked, so that it cannot be posed here",
    "make a library override of it (menu Object), and take that in",
)
ALONE = "its document did not come along", "append its scene, or open the skeleton document as it was saved"


@dataclass(frozen=True)
class Stray:
    """A rig, or a document without one, that the scene does not hold.

    name : of the rig, or else of the text block
    lack : why it cannot be taken in, and what to do; None where it can
    """

    name: str
    rig: bpy.types.Object | None
    document: bpy.types.Text | None
    lack: tuple[str, str] | None = None


def list_strays(scene: bpy.types.Scene) -> list[Stray]:
    """What the scene could take in: rigs that lie in it, then documents that no scene and no rig has."""
    held = {holder.rig for holder in list_holders(scene)}
    held |= {rig.override_library.reference for rig in _list_rigs(scene) if rig.override_library is not None}
    found = [_judge_rig(rig) for rig in _list_rigs(scene) if rig not in held]
    known = {holder.document for other in bpy.data.scenes for holder in list_holders(other)}
    known |= {named_document(thing) for thing in bpy.data.objects if thing.type == "ARMATURE"}
    loose = (text for text in bpy.data.texts if MARK in text and text not in known and text.library is None)
    return [*found, *(Stray(text.name, None, text) for text in loose)]


def find_sharer(scene: bpy.types.Scene) -> bpy.types.Scene | None:
    """Another scene whose skeleton has the same document as the active one, but a rig of its own."""
    own = scene.counterpoise
    for other in bpy.data.scenes:
        for holder in list_holders(other):
            if other != scene and holder.document == own.document is not None and holder.rig != own.rig:
                return other
    return None


def take_in(scene: bpy.types.Scene, name: str) -> str:
    """Let the scene hold the skeleton of a stray rig or document, as the active one; the name of its document.

    Raises
    ------
    SkeletonError : the scene has no such stray, or it cannot be taken in
    """
    stray = next((own for own in list_strays(scene) if own.name == name), None)
    if stray is None:
        raise SkeletonError(name, "no skeleton of that name waits to be taken in", "look at the list in panel 2")
    if stray.lack is not None:
        raise SkeletonError(name, *stray.lack)
    text = stray.document
    if _is_shared(text, stray.rig):
        text = _copy_document(text, stray.rig)
    elif any(other != text and other.get(MARK) == text.get(MARK) for other in bpy.data.texts):
        _mark_anew(text, stray.rig)  # appended into the file it is from, or twice
    rest_active(scene)
    hold_skeleton(scene.counterpoise, text, stray.rig)
    return str(text.name)


def part_documents(scene: bpy.types.Scene) -> str:
    """Give the active skeleton a document of its own where another scene's has the same; the name of it."""
    settings = scene.counterpoise
    text, rig = _copy_document(settings.document, settings.rig), settings.rig
    hold_skeleton(settings, text, rig)
    return str(text.name)


def _list_rigs(scene: bpy.types.Scene) -> Iterator[bpy.types.Object]:
    """Rigs of skeletons in the scene, those of collections that are linked in as an instance as well."""
    for thing in scene.objects:
        if thing.type == "ARMATURE" and MARK in thing:
            yield thing
        elif thing.instance_collection is not None:
            yield from (own for own in thing.instance_collection.all_objects if own.type == "ARMATURE" and MARK in own)


def _judge_rig(rig: bpy.types.Object) -> Stray:
    document = named_document(rig)
    lack = LINKED if rig.library is not None else ALONE if document is None else None
    return Stray(rig.name, rig, document, lack)


def _is_shared(text: bpy.types.Text, rig: bpy.types.Object | None) -> bool:
    """Whether a document is linked, held by a scene, or named by another rig as well."""
    held = any(holder.document == text for scene in bpy.data.scenes for holder in list_holders(scene))
    others = (thing for thing in bpy.data.objects if thing.type == "ARMATURE" and thing != rig)
    return text.library is not None or held or any(named_document(other) == text for other in others)


def _copy_document(text: bpy.types.Text, rig: bpy.types.Object | None) -> bpy.types.Text:
    """A document of its own for a rig."""
    path = text_path(text)
    own = text.copy()
    own[RELATIVE_TO] = str(path.parent)
    _mark_anew(own, rig)
    return own


def _mark_anew(text: bpy.types.Text, rig: bpy.types.Object | None) -> None:
    """Another mark on a document and all that hangs on its rig; what is overridden keeps the mark of its file."""
    if rig is not None and rig.override_library is not None:
        text[MARK] = rig[MARK]
        return
    text[MARK] = uuid4().hex
    if rig is not None:
        homes = (home for home in rig.users_collection if MARK in home and home.library is None)
        mark_things(text, (rig, *homes, *(child for child in rig.children if ELEMENT in child)))
