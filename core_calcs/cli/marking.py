"""What `counterpoise mark` does."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ..document.meshes import locate_mesh_folder
from ..document.reading import read_document
from ..handover.tables import plain_value
from ..skeleton.joint import FacetKind, FacetMark, JointFamily
from ..spatial.errors import MeshFileError
from ..studies.facet_marks import mark_facets
from ..studies.joint_cache import open_cache
from .recording import write_recorded
from .terminal import Terminal


@dataclass(frozen=True)
class Order:
    """What the user asked for.

    facets : (element, faces), faces as numbers and ranges or as @FILE
    family : None: the plainest that fits
    cache : folder of joints that were found, or off; empty: the usual one
    by : who does it, as typed
    kind : of a vertebra's facets; None: by their place
    """

    document_path: Path
    child: str
    facets: tuple[tuple[str, str], ...]
    family: JointFamily | None
    cache: str
    kind: FacetKind | None = None
    by: str = ""


def run_mark(terminal: Terminal, order: Order) -> None:
    """Find a joint anew from facets marked by hand, and write the document."""
    document = read_document(order.document_path)
    marks = [
        FacetMark(element, _read_text(faces), order.kind or "articular surface") for element, faces in order.facets
    ]
    folder = locate_mesh_folder(document, order.document_path)
    with terminal.show_progress() as progress:
        changed = mark_facets(
            document, folder, order.child, marks, order.family, progress=progress, cache=open_cache(order.cache)
        )
    joint = changed.skeleton.joint_of(order.child)
    write_recorded(order.document_path, document, changed, order.by)
    turns = "turns" if joint.moves else "fixed"
    terminal.show_line(f"{joint.parent} to {joint.child}: {joint.confidence}, {turns}: {joint.reason}.")
    terminal.show_line(f"{order.document_path}: written")
    terminal.show_result({"document": str(order.document_path), "joint": plain_value(joint)})


def _read_text(faces: str) -> str:
    """The text itself, or what stands in the file that it names after an @; lines count as commas."""
    if not faces.startswith("@"):
        return faces
    try:
        lines = Path(faces[1:]).read_text(encoding="utf-8").split()
    except (OSError, UnicodeDecodeError) as error:
        raise MeshFileError(faces[1:], f"its face numbers cannot be read: {error}", "give a text file") from error
    return ",".join(part.strip(",") for part in lines)
