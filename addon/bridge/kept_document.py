"""The skeleton document inside the .blend: one indented text block, parsed once for each content."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import bpy

from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.meshes import locate_mesh_folder, relate_mesh_folder
from ..core_calcs.document.reading import document_from_text, document_to_text
from ..core_calcs.spatial.errors import DocumentError
from ..core_calcs.studies.beams import BeamKind
from ..core_calcs.studies.chains import name_chains
from ..core_calcs.studies.prepared import Prepared, prepare
from ..core_calcs.studies.rigging import RigPlan, plan_rig

RELATIVE_TO = "counterpoise_relative_to"
"""On the text block while the .blend has no place of its own: the folder that the mesh folder is relative to."""

KEPT = 4


@dataclass(frozen=True, eq=False)
class KeptDocument:
    """A document with what is derived from it when first asked for; digest: SHA-256 of its text."""

    text: str
    digest: str
    document: SkeletonDocument

    @cached_property
    def plan(self) -> RigPlan:
        """Bones and carriers."""
        return plan_rig(self.document.skeleton)

    @cached_property
    def chains(self) -> dict[str, BeamKind]:
        """Which of neck, trunk, tail and limbs each joint belongs to, by its child."""
        return name_chains(self.document.skeleton)

    @cached_property
    def prepared(self) -> Prepared:
        """What every pose's assessment shares."""
        return prepare(self.document.skeleton, self.document.build)


_kept: list[KeptDocument] = []


def drop_documents() -> None:
    """Forget every parsed document."""
    _kept.clear()


def keep_document(scene: bpy.types.Scene) -> KeptDocument:
    """The document of the scene's active skeleton; DocumentError where there is none or it cannot be read."""
    text = scene.counterpoise.document
    if text is None:
        raise DocumentError("scene", "it holds no skeleton", "import one, or open a skeleton document")
    return keep_text(text)


def keep_text(text: bpy.types.Text) -> KeptDocument:
    """The document in a text block; DocumentError where it cannot be read."""
    content = text.as_string()
    for kept in _kept:
        # Sooner told than a hash: this is asked for at every turn of a dragged bone.
        if kept.text == content:
            return kept
    document = document_from_text(content, f"text block {text.name}")
    del _kept[: max(0, len(_kept) - KEPT + 1)]
    _kept.append(KeptDocument(content, hashlib.sha256(content.encode()).hexdigest(), document))
    return _kept[-1]


def new_text(document: SkeletonDocument, mesh_folder: Path) -> bpy.types.Text:
    """A text block holding a document whose meshes lie in that folder."""
    text = bpy.data.texts.new(f"{document.skeleton.name} skeleton.json")
    try:
        base = _blend_path()
        if base is None:
            text[RELATIVE_TO] = str(mesh_folder.absolute().parent)
        write_text(text, replace(document, mesh_folder=relate_mesh_folder(mesh_folder, text_path(text))))
    except Exception:
        bpy.data.texts.remove(text)
        raise
    return text


def write_text(text: bpy.types.Text, document: SkeletonDocument) -> None:
    """Put a document into its text block; nothing is changed where it would not read back."""
    text.from_string(document_to_text(document))


def text_path(text: bpy.types.Text) -> Path:
    """Where the document counts its mesh folder from."""
    if RELATIVE_TO in text:
        return Path(text[RELATIVE_TO]) / "skeleton.json"
    path = _blend_path()
    if path is None:
        raise DocumentError(f"text block {text.name}", "its mesh folder is not known", "save the .blend first")
    return path


def move_document(document: SkeletonDocument, old: Path, new: Path) -> SkeletonDocument:
    """The same document for another place: the mesh folder is counted from there."""
    return replace(document, mesh_folder=relate_mesh_folder(locate_mesh_folder(document, old), new))


def follow_blend(target: Path) -> None:
    """Before the .blend is saved at a path: count the mesh folders of its documents from there."""
    for text in bpy.data.texts:
        if not any(text in list_texts(scene) for scene in bpy.data.scenes):
            continue
        try:
            old = text_path(text)
        except DocumentError as error:
            print(f"Counterpoise: {error}")
            continue
        if RELATIVE_TO not in text and old.parent == target.parent:
            continue
        try:
            write_text(text, move_document(keep_text(text).document, old, target))
        except DocumentError as error:  # meshes on another drive, or a text that somebody broke: leave it as it is
            text[RELATIVE_TO] = str(old.parent)
            print(f"Counterpoise: {error}")
        else:
            text.pop(RELATIVE_TO, None)


def list_texts(scene: bpy.types.Scene) -> list[bpy.types.Text]:
    """The text blocks of all skeletons of a scene, the active one's first."""
    settings = scene.counterpoise
    found = (settings.document, *(resting.document for resting in settings.resting))
    return [text for text in found if text is not None]


def _blend_path() -> Path | None:
    return Path(bpy.data.filepath) if bpy.data.filepath else None
