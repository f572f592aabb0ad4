"""Documents follow the .blend to where it is saved, and come back where it stays: a copy, or a save that failed."""

from __future__ import annotations

from pathlib import Path

import bpy

from ..core_calcs.spatial.errors import DocumentError
from .kept_document import RELATIVE_TO, blend_path, keep_text, list_texts, move_document, place_text, text_path
from .skeletons import DOCUMENT, list_holders, named_document

_before: dict[int, tuple[str, str | None]] = {}
"""Of each text block that was changed for the saving under way, by its session's number: content and RELATIVE_TO."""


def follow_blend(target: Path) -> None:
    """Before the .blend is saved at a path: count the mesh folders of its documents from there."""
    _before.clear()
    _name_documents()
    for text in _list_own():
        before = text.as_string(), text.get(RELATIVE_TO)
        try:
            old = text_path(text)
            if old.parent == target.parent:
                text[RELATIVE_TO] = str(target.parent)
                continue
            place_text(text, move_document(keep_text(text).document, old, target), target)
        except DocumentError as error:  # meshes on another drive, or a text that somebody broke: it stays as it is
            print(f"Counterpoise: {error}")
            continue
        _before[text.session_uid] = before


def settle_documents(target: Path) -> None:
    """After saving at a path, or trying to: where the .blend that is open is another, documents are as they were."""
    stayed = blend_path()
    for text in bpy.data.texts if stayed is None or stayed.parent != target.parent else ():
        if text.session_uid in _before:
            content, relative_to = _before[text.session_uid]
            text.from_string(content)
            if relative_to is None:
                del text[RELATIVE_TO]
            else:
                text[RELATIVE_TO] = relative_to
    _before.clear()


def _name_documents() -> None:
    """Every rig that a scene holds names its document, be it one that an older version made."""
    for scene in bpy.data.scenes:
        for holder in list_holders(scene):
            rig, text = holder.rig, holder.document
            if rig is not None and text is not None and rig.library is None and named_document(rig) != text:
                rig[DOCUMENT] = text


def _list_own() -> list[bpy.types.Text]:
    """The text blocks of this file that hold a skeleton's document, be it in a scene or not."""
    held = {text for scene in bpy.data.scenes for text in list_texts(scene)}
    return [text for text in bpy.data.texts if text.library is None and (text in held or RELATIVE_TO in text)]
