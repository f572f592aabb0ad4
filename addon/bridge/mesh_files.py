"""Mesh files that are missing or changed: looked for when something is opened, kept for the panel."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import bpy
from bpy.app.handlers import persistent

from ..core_calcs.document.meshes import list_missing, locate_mesh_folder, relate_mesh_folder
from ..core_calcs.spatial.errors import DocumentError
from .kept_document import keep_text, list_texts, place_text, text_path
from .own_handlers import leave_alone, listen_for

GONE = "{file}: missing"

_wrong: dict[int, tuple[str, tuple[str, ...]]] = {}
"""By text block: the mesh folder that was looked into, and the files with what is wrong with each."""


def wrong_files(scene: bpy.types.Scene) -> tuple[str, ...]:
    """The active skeleton's mesh files that are missing or changed, as when they were last looked for."""
    text = scene.counterpoise.document
    return () if text is None else _wrong.get(text.session_uid, ("", ()))[1]


def note_files(text: bpy.types.Text, wrong: Iterable[str]) -> None:
    """Keep what was found of a skeleton's files."""
    _wrong[text.session_uid] = (keep_text(text).document.mesh_folder, tuple(wrong))


def look_for_files(scene: bpy.types.Scene) -> None:
    """Look whether the files of the scene's skeletons are there; not into them."""
    for text in list_texts(scene):
        try:
            document, path = keep_text(text).document, text_path(text)
        except DocumentError:
            _wrong.pop(text.session_uid, None)  # the figures tell what is wrong with the document
            continue
        missing = list_missing(document, locate_mesh_folder(document, path))
        _wrong[text.session_uid] = (document.mesh_folder, tuple(GONE.format(file=file) for file in missing))


def relink_meshes(text: bpy.types.Text, folder: Path) -> None:
    """Let a skeleton take its meshes from another folder; DocumentError where no relative path leads there."""
    document = keep_text(text).document
    path = text_path(text)
    place_text(text, replace(document, mesh_folder=relate_mesh_folder(folder, path)), path)
    note_files(text, ())


@persistent
def look_after_load(*_: object) -> None:
    """Handler: look once for every scene of the file."""
    _wrong.clear()
    for scene in bpy.data.scenes:
        look_for_files(scene)


@persistent
def look_after_undo(*_: object) -> None:
    """Handler: look again where the folder is another one now."""
    for scene in bpy.data.scenes:
        for text in list_texts(scene):
            try:
                folder = keep_text(text).document.mesh_folder
            except DocumentError:
                continue
            if _wrong.get(text.session_uid, ("", ()))[0] != folder:
                look_for_files(scene)
                break


_HANDLERS = (("load_post", look_after_load), ("undo_post", look_after_undo), ("redo_post", look_after_undo))


def register() -> None:
    listen_for(_HANDLERS)


def unregister() -> None:
    leave_alone(_HANDLERS)
    _wrong.clear()
