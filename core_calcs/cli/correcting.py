"""What `counterpoise correct` does."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ..document.document import SkeletonDocument
from ..document.meshes import locate_mesh_folder
from ..document.reading import read_document, write_document
from ..document.record import Record
from ..handover.tables import plain_value
from ..mesh.made_files import together
from ..skeleton.verdict import Verdict, choose_way, list_choices
from ..spatial.errors import CounterpoiseError, SkeletonError
from ..spatial.progress import Progress, part_of
from ..studies.audit import Audit, audit_document
from ..studies.corrections import put_back
from ..studies.joint_cache import JointCache, open_cache
from ..studies.putting_right import put_right
from .recording import tell_time
from .terminal import Terminal

_AUDITING = 0.8
"""Share of the work that the audit takes."""


@dataclass(frozen=True)
class Order:
    """What the user asked for.

    elements : one or more of those that the audit finds wrong together, or leaves undecided, or as placed
    way : that is chosen where it finds none wrong, in the audit's words; empty: what it finds wrong
    putting_back : the last correction instead
    cache : folder of joints that were found, or off; empty: the usual one
    """

    document_path: Path
    elements: tuple[str, ...]
    way: str
    putting_back: bool
    reason: str
    by: str
    cache: str


def run_correct(terminal: Terminal, order: Order) -> None:
    """Put right what an audit finds wrong of the elements named, or the last correction back; write the document."""
    document = read_document(order.document_path)
    _refuse(document, order)
    with together(locate_mesh_folder(document, order.document_path)):
        with terminal.show_progress() as progress:
            changed = _change(document, order, progress, open_cache(order.cache))
        write_document(order.document_path, changed)
    record = changed.records[-1]
    terminal.show_line(f"{', '.join(record.elements)}: {record.what}.")
    if record.evidence:
        terminal.show_line(record.evidence)
    touched = [
        joint for joint in changed.skeleton.joints if {joint.parent, joint.child} & set(record.elements) and joint.moves
    ]
    for joint in touched:
        terminal.show_line(f"{joint.parent} to {joint.child}: {joint.confidence}: {joint.reason}.")
    terminal.show_line(f"{order.document_path}: written")
    terminal.show_result({"document": str(order.document_path), "record": plain_value(record)})


def _refuse(document: SkeletonDocument, order: Order) -> None:
    """CounterpoiseError where the options do not say one thing whole."""
    if order.putting_back and order.elements:
        raise CounterpoiseError("correct", "--element and --put-back do not go together", "leave one of them away")
    if not order.putting_back and not order.elements:
        raise CounterpoiseError("correct", "nothing is named to put right", "give --element NAME or --put-back")
    if order.way and order.putting_back:
        raise CounterpoiseError("correct", "--way goes with --element, not with --put-back", "leave one of them away")
    if not order.reason.strip():
        raise CounterpoiseError("correct", "it is put right without a reason", "give --reason")
    for name in order.elements:
        document.skeleton.index(name)


def _change(document: SkeletonDocument, order: Order, progress: Progress, cache: JointCache | None) -> SkeletonDocument:
    folder, when = locate_mesh_folder(document, order.document_path), tell_time()
    if order.putting_back:
        told = Record("correction", "put back", (), "", order.reason.strip(), "", order.by.strip(), when)
        return put_back(document, folder, told, progress, cache)
    audit = audit_document(document, folder, part_of(progress, 0, _AUDITING), order.elements)
    verdict = _find_verdict(audit, order.elements, order.way)
    rest = part_of(progress, _AUDITING, 1)
    return put_right(document, folder, verdict, order.reason, order.by.strip(), when, rest, cache)


def _find_verdict(audit: Audit, elements: tuple[str, ...], way: str) -> Verdict:
    """What the audit says of these elements together, what is wrong first, or as one decides it who knows the way.

    SkeletonError where it says nothing of them, or has no place for them that way.
    """
    found = [verdict for verdict in audit.verdicts if set(elements) <= set(verdict.elements)]
    found.sort(key=lambda verdict: ("wrong", "undecided", "as placed").index(verdict.decision))
    if found and way:
        # Of a bone that two verdicts are about, the one that the way is of; else one that has ways to choose among.
        ways = [list_choices(verdict) for verdict in found]
        chosen = next((i for i, own in enumerate(ways) if way in own), None)
        return choose_way(found[next((i for i, own in enumerate(ways) if own), 0) if chosen is None else chosen], way)
    if found:
        return found[0]
    why = dict(audit.left_out).get(
        elements[0], "the audit tries vertebrae, and bones of limbs and girdles with a partner"
    )
    raise SkeletonError(" and ".join(elements), f"it was not tried: {why}", "place it by hand")
