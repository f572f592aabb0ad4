"""What `counterpoise contacts` does."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ..document.document import SkeletonDocument
from ..document.meshes import locate_mesh_folder
from ..document.reading import read_document, write_document
from ..handover.quantities import format_quantity
from ..spatial.errors import CounterpoiseError
from ..studies.assess import assess_prepared
from ..studies.assessment import Assessment, FootLoad
from ..studies.contacts_by_hand import add_contact, remove_contact, set_bearing
from ..studies.prepared import prepare
from .terminal import Terminal


@dataclass(frozen=True)
class Order:
    """What the user asked for.

    add, remove : names, empty where nothing is to be added or removed
    poses : that `idle` and `bear` are about; none: all
    """

    document_path: Path
    add: str
    elements: tuple[str, ...]
    remove: str
    poses: tuple[str, ...]
    idle: tuple[str, ...]
    bear: tuple[str, ...]


def run_contacts(terminal: Terminal, order: Order) -> None:
    """Change what touches the ground and bears, write the document where that changed it, and show it."""
    document = read_document(order.document_path)
    changed = _change(document, order)
    prepared = prepare(changed.skeleton, changed.build)
    found = [assess_prepared(prepared, pose, changed.site) for pose in changed.poses]
    if changed is not document:
        write_document(order.document_path, changed)
    _show_contacts(terminal, changed, found)
    state = "as it was" if changed is document else "written"
    terminal.show_line(f"{order.document_path}: {state}")
    terminal.show_result({"document": str(order.document_path), "state": state, "contacts": _list_contacts(changed)})


def _change(document: SkeletonDocument, order: Order) -> SkeletonDocument:
    if order.elements and not order.add:
        raise CounterpoiseError("contacts", "elements are named, but nothing is added", "give --add NAME too")
    if order.poses and not (order.idle or order.bear):
        raise CounterpoiseError("contacts", "a pose is named, but nothing is said of it", "give --idle or --bear too")
    if both := set(order.idle) & set(order.bear):
        raise CounterpoiseError(min(both), "it cannot both bear and not", "give --idle or --bear")
    if order.remove:
        document = remove_contact(document, order.remove)
    if order.add:
        folder = locate_mesh_folder(document, order.document_path)
        document = add_contact(document, order.add, order.elements, folder)
    for pose in order.poses or tuple(pose.name for pose in document.poses):
        for names, bears in ((order.idle, False), (order.bear, True)):
            for foot in names:
                document = set_bearing(document, pose, foot, bears)
    return document


def _show_contacts(terminal: Terminal, document: SkeletonDocument, found: list[Assessment]) -> None:
    """A contact a row, what bears on it in every pose in the columns."""
    rows = []
    for i, foot in enumerate(document.skeleton.feet):
        elements = ", ".join(contact.element for contact in foot.contacts)
        rows.append((foot.name, foot.origin, *(_word_load(pose.feet[i]) for pose in found), elements))
    heads = ("contact", "origin", *(pose.pose for pose in found), "elements")
    terminal.show_table(heads, rows, right=tuple(range(2, 2 + len(found))))
    terminal.show_line()


def _word_load(load: FootLoad) -> str:
    if not load.bears:
        return "bears nothing"
    if not len(load.points_m):
        return "lifted"
    return format_quantity(load.force_N, "N")


def _list_contacts(document: SkeletonDocument) -> list[dict[str, object]]:
    return [
        {
            "name": foot.name,
            "origin": foot.origin,
            "elements": [contact.element for contact in foot.contacts],
            "idle_in": [pose.name for pose in document.poses if foot.name in pose.idle_feet],
        }
        for foot in document.skeleton.feet
    ]
