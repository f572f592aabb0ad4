"""What `counterpoise missing` and `counterpoise add-bone` do."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ..document.meshes import locate_mesh_folder
from ..document.reading import read_document, write_document
from ..handover.tables import plain_value
from ..mesh.made_files import together
from ..skeleton.table import read_table, write_table
from ..spatial.errors import CounterpoiseError
from ..studies.inventory import read_expected
from ..studies.joint_cache import open_cache
from ..studies.made_rows import take_made
from ..studies.missing_bones import make_bone
from ..studies.missing_list import Missing, list_missing
from ..studies.new_bones import BoneOrder
from .recording import tell_time
from .terminal import Terminal

_KINDS = {"partner": "one of a pair", "number": "number in a row", "room": "room in a row", "count": "count"}


@dataclass(frozen=True)
class Order:
    """What the user asked for.

    mirror_of, scale_of : the element that the bone is made of; one of the two
    table_path : element table that is to have the bone too
    """

    document_path: Path
    name: str
    mirror_of: str
    scale_of: str
    parent: str
    position: int | None
    reason: str
    by: str
    cache: str
    table_path: Path | None


def run_missing(terminal: Terminal, document_path: Path, expected: str) -> None:
    """Show what seems to be missing in a document, and what could be made; the document is left as it is."""
    document = read_document(document_path)
    found = list_missing(document.skeleton, read_expected(expected))
    heads = ("missing", "name", "what", "could be made with")
    terminal.show_table(heads, [(_KINDS[own.kind], own.name, own.what, _tell_way(own)) for own in found])
    made = [element for element in document.skeleton.elements if element.made_from]
    if not found:
        terminal.show_line("Nothing seems to be missing.")
    if made:
        terminal.show_line()
        terminal.show_table(("made here", "how", "of"), [(own.name, own.origin, own.made_from) for own in made])
    told = [{"element": own.name, "origin": own.origin, "made_from": own.made_from} for own in made]
    terminal.show_result({"document": str(document_path), "missing": plain_value(found), "made": told})


def run_add_bone(terminal: Terminal, order: Order) -> None:
    """Make a bone, write its file and the document, and say what was done."""
    _refuse(order)
    document = read_document(order.document_path)
    rows = read_table(order.table_path) if order.table_path else ()
    folder = locate_mesh_folder(document, order.document_path)
    way, source = ("mirrored", order.mirror_of) if order.mirror_of else ("scaled", order.scale_of)
    given = (source, order.reason, order.by, tell_time(), order.parent, order.position)
    bone = BoneOrder(order.name, "mirrored" if way == "mirrored" else "scaled", *given)
    with together(folder):
        with terminal.show_progress() as progress:
            changed = make_bone(document, folder, bone, progress, open_cache(order.cache))
        write_document(order.document_path, changed)
    if order.table_path:
        write_table(order.table_path, take_made(rows, changed.skeleton))
        terminal.show_line(f"{order.table_path}: written")
    element = changed.skeleton.elements[changed.skeleton.index(order.name)]
    record = changed.records[-1]
    terminal.show_line(f"{order.name}: {record.what}.")
    for part in record.evidence.split("; "):
        terminal.show_line(f"  {part}")
    for joint in changed.skeleton.joints:
        if order.name in (joint.parent, joint.child):
            state = "turns" if joint.moves else "fixed"
            terminal.show_line(f"{joint.parent} to {joint.child}: {joint.confidence}, {state}: {joint.reason}.")
    terminal.show_line(f"{folder / element.source.file}: {element.solid.triangles} triangles")
    terminal.show_line(f"{order.document_path}: written")
    result = {"document": str(order.document_path), "element": order.name, "file": element.source.file}
    result |= {"origin": element.origin, "made_from": element.made_from}
    terminal.show_result(result | {"what": record.what, "evidence": record.evidence})


def _refuse(order: Order) -> None:
    """CounterpoiseError where the options do not say one thing whole."""
    if bool(order.mirror_of) == bool(order.scale_of):
        what = "what it is made of is given twice or not at all"
        raise CounterpoiseError(order.name, what, "give one of --mirror-of and --scale-of")
    if order.scale_of == order.name:
        raise CounterpoiseError(order.name, "it cannot be scaled of itself", "name another element of its row")
    if order.mirror_of == order.name and (order.parent or order.position is not None):
        what = "mirrored in its place it keeps its parent and its position"
        raise CounterpoiseError(order.name, what, "leave --parent and --position out")


def _tell_way(missing: Missing) -> str:
    if missing.way is None:
        return ""
    option = "--mirror-of" if missing.way == "mirrored" else "--scale-of"
    position = f" --position {missing.position}" if missing.kind == "room" else ""
    return f"{option} {missing.source}{position}"
