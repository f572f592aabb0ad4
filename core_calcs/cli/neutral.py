"""What `counterpoise neutral` does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..document.document import SkeletonDocument
from ..document.meshes import locate_mesh_folder
from ..document.reading import read_document
from ..handover.quantities import format_fixed
from ..handover.tables import plain_value
from ..skeleton.element import Series
from ..skeleton.tree import Skeleton
from ..spatial.errors import CounterpoiseError
from ..spatial.progress import Progress
from ..studies.disc_thickness import (
    JointDisc,
    ToldThickness,
    choose_discs,
    describe_growth,
    describe_overlaps,
    list_discs,
    restore_discs,
    set_discs_thickness,
)
from ..studies.joint_cache import open_cache
from .recording import write_recorded
from .terminal import Terminal


@dataclass(frozen=True)
class Order:
    """What the user asked for.

    children, series, everywhere : of the joints; all of a series, or of the column, whose disc can be set
    disc_mm, disc_share : how thick; a share of the joint's size s
    scanned : as thick as the gap that was scanned
    cache : folder of joints that were found, or off; empty: the usual one
    """

    document_path: Path
    children: tuple[str, ...]
    series: tuple[Series, ...]
    everywhere: bool
    disc_mm: float | None
    disc_share: float | None
    scanned: bool
    reason: str
    cache: str
    by: str


def run_neutral(terminal: Terminal, order: Order) -> None:
    """Set discs, or set them back, write the document where that changed it, and show how thick all are."""
    document = read_document(order.document_path)
    _refuse(order)
    chosen = _choose(document.skeleton, order)
    changed = document
    if chosen:
        with terminal.show_progress() as progress:
            changed = _change(document, order, chosen, progress)
        write_recorded(order.document_path, document, changed, order.by)
    discs = list_discs(changed.skeleton)
    terminal.show_table(
        ("joint of", "on", "disc mm", "as scanned mm", "reason"), [_make_row(disc) for disc in discs], right=(2, 3)
    )
    terminal.show_line()
    notes = [describe_growth(discs), *describe_overlaps(changed.skeleton, chosen)]
    for note in notes:
        terminal.show_line(note)
    state = "written" if chosen else "as it was"
    terminal.show_line(f"{order.document_path}: {state}")
    terminal.show_result(
        {"document": str(order.document_path), "state": state, "discs": plain_value(discs), "notes": notes}
    )


def _choose(skeleton: Skeleton, order: Order) -> tuple[str, ...]:
    """The children named, in their order; of a series or the whole column those whose disc can be set, or was."""
    if order.children:
        return tuple(dict.fromkeys(order.children))
    if not (order.series or order.everywhere):
        return ()
    return choose_discs(skeleton, order.series, order.scanned)


def _change(document: SkeletonDocument, order: Order, chosen: Sequence[str], progress: Progress) -> SkeletonDocument:
    folder = locate_mesh_folder(document, order.document_path)
    cache = open_cache(order.cache)
    if order.scanned:
        return restore_discs(document, folder, chosen, progress, cache)
    told = ToldThickness(None if order.disc_mm is None else order.disc_mm / 1000, order.disc_share)
    return set_discs_thickness(document, folder, chosen, told, order.reason, progress, cache)


def _refuse(order: Order) -> None:
    """CounterpoiseError where the options do not say one thing whole."""
    ways = sum((bool(order.children), bool(order.series), order.everywhere))
    asked = sum((order.disc_mm is not None, order.disc_share is not None, order.scanned))
    if ways > 1:
        raise CounterpoiseError("neutral", "joints are named in two ways", "give one of --joint, --series and --all")
    if asked > 1:
        what = "the thickness of the discs is given twice"
        raise CounterpoiseError("neutral", what, "give one of --disc-mm, --disc-share and --as-scanned")
    if ways and not asked:
        what = "no thickness of the discs is given"
        raise CounterpoiseError("neutral", what, "give --disc-mm, --disc-share or --as-scanned too")
    if (asked or order.reason) and not ways:
        raise CounterpoiseError("neutral", "no joints are named", "give --joint, --series or --all too")
    if order.scanned and order.reason:
        raise CounterpoiseError("neutral", "going back to the scan keeps no reason", "leave --reason out")


def _make_row(disc: JointDisc) -> tuple[str, ...]:
    thick, scanned = (format_fixed(1000 * length, 1) for length in (disc.thickness_m, disc.scanned_m))
    return (disc.child, disc.parent, thick, scanned, disc.reason if disc.is_set else "as scanned")
