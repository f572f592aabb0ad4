"""The skeleton document inside the .blend: one indented text block, parsed once for each content."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import bpy

from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.meshes import list_missing, locate_mesh_folder, relate_mesh_folder
from ..core_calcs.document.reading import document_from_text, document_to_text
from ..core_calcs.spatial.errors import DocumentError
from ..core_calcs.studies.beams import BeamKind
from ..core_calcs.studies.chains import name_chains
from ..core_calcs.studies.posing import Posing, prepare_posing
from ..core_calcs.studies.prepared import Prepared, prepare
from ..core_calcs.studies.rigging import RigPlan, plan_rig

RELATIVE_TO = "counterpoise_relative_to"
"""On the text block: the folder that its mesh folder was written relative to, that of the .blend once it is saved."""

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
    def posing(self) -> Posing:
        """Chains and ranges, for the posing tools."""
        return prepare_posing(self.document.skeleton)

    @cached_property
    def shape(self) -> int:
        """What its elements are and how they hang together, hashed: what is found of surfaces depends on it."""
        skeleton = self.document.skeleton
        elements = tuple((own.name, own.source, own.solid.volume_m3, own.X_WE.tobytes()) for own in skeleton.elements)
        joints = tuple(
            (own.child, own.parent, own.also, own.moves, own.senses, own.X_WJ.tobytes(), own.settings)
            for own in skeleton.joints
        )
        return hash((elements, joints))

    @cached_property
    def prepared(self) -> Prepared:
        """What every pose's assessment shares."""
        return prepare(self.document.skeleton, self.document.build)


_kept: list[KeptDocument] = []

_read: dict[str, tuple[KeptDocument, float]] = {}
"""By the names of text blocks: what was read last while holding, and when."""
_holding = False

HELD_S = 2.0
"""For so long the figures of a dragged bone go by the text as it was read last: to read a megabyte takes as long as
half of all figures. What the add-on has written counts at once; operators always read, and so does what is computed
once the pose rests."""


def drop_documents() -> None:
    """Forget every parsed document."""
    _kept.clear()
    _read.clear()


@contextmanager
def hold_texts() -> Iterator[None]:
    """Within it text blocks that were read a moment ago are not read again."""
    global _holding
    _holding = True
    try:
        yield
    finally:
        _holding = False


def keep_document(scene: bpy.types.Scene) -> KeptDocument:
    """The document of the scene's active skeleton; DocumentError where there is none or it cannot be read."""
    text = scene.counterpoise.document
    if text is None:
        raise DocumentError(
            "scene", "it holds no skeleton", "build one from scans (step 1), or open a skeleton document"
        )
    return keep_text(text)


def keep_text(text: bpy.types.Text) -> KeptDocument:
    """The document in a text block; DocumentError where it cannot be read."""
    if not _holding:
        return _keep(text)
    kept, when = _read.get(text.name, (None, 0.0))
    if kept is None or time.monotonic() > when + HELD_S:
        kept = _keep(text)
        _read[text.name] = kept, time.monotonic()
    return kept


def _keep(text: bpy.types.Text) -> KeptDocument:
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
        path = blend_path() or mesh_folder.absolute().parent / "skeleton.json"
        place_text(text, replace(document, mesh_folder=relate_mesh_folder(mesh_folder, path)), path)
    except Exception:
        bpy.data.texts.remove(text)
        raise
    return text


def write_text(text: bpy.types.Text, document: SkeletonDocument) -> None:
    """Put a document into its text block; nothing is changed where it would not read back, or is linked."""
    if text.library is not None:
        what = f"it is linked from {text.library.filepath}, and what is written here would not be saved"
        raise DocumentError(f"text block {text.name}", what, "open that file and work there, or append it instead")
    text.from_string(document_to_text(document))
    _read.pop(text.name, None)


def place_text(text: bpy.types.Text, document: SkeletonDocument, path: Path) -> None:
    """Put a document into its text block whose mesh folder is counted from a path."""
    write_text(text, document)
    text[RELATIVE_TO] = str(path.parent)


def text_path(text: bpy.types.Text) -> Path:
    """Where the document counts its mesh folder from: the .blend that it lies in, or what it was written for.

    The two differ where a .blend was moved, with its meshes or without, where the text block was appended from another
    file, and where undo has brought one back from before the .blend was saved elsewhere. Where more of the mesh files
    are there counts.
    """
    here = blend_path() if text.library is None else Path(bpy.path.abspath(text.library.filepath))
    before = Path(text[RELATIVE_TO]) / "skeleton.json" if RELATIVE_TO in text else None
    if here is None or before is None:
        if (path := here or before) is None:
            raise DocumentError(f"text block {text.name}", "its mesh folder is not known", "save the .blend first")
        return path
    if here.parent == before.parent:
        return here
    try:
        document = keep_text(text).document
    except DocumentError:  # a text that somebody broke stays what it was written for
        return before
    lacking_here, lacking_before = (list_missing(document, locate_mesh_folder(document, p)) for p in (here, before))
    return before if len(lacking_before) < len(lacking_here) else here


def move_document(document: SkeletonDocument, old: Path, new: Path) -> SkeletonDocument:
    """The same document for another place: the mesh folder is counted from there."""
    return replace(document, mesh_folder=relate_mesh_folder(locate_mesh_folder(document, old), new))


def list_texts(scene: bpy.types.Scene) -> list[bpy.types.Text]:
    """The text blocks of all skeletons of a scene, the active one's first."""
    settings = scene.counterpoise
    found = (settings.document, *(resting.document for resting in settings.resting))
    return [text for text in found if text is not None]


def blend_path() -> Path | None:
    """The .blend's own; None where it was never saved."""
    return Path(bpy.data.filepath) if bpy.data.filepath else None
