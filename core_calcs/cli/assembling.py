"""What `counterpoise assemble` does."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..articulation.chain import Open
from ..articulation.rim_heights import RimHeights
from ..document.meshes import locate_mesh_folder
from ..document.reading import read_document, write_document
from ..document.record import Record
from ..spatial.errors import CounterpoiseError
from ..studies.assembly import Assembly, assemble_document
from ..studies.assembly_plans import AssembledJoint, AssemblyOrder
from ..studies.joint_cache import open_cache
from ..studies.told_gaps import ToldGap, read_gap, read_gap_table
from .recording import tell_time
from .terminal import Terminal


@dataclass(frozen=True)
class Order:
    """What the user asked for.

    gap_mm, gap_share : between the end plates of every joint, one of the two; gaps : NAME=MM of single joints; each one
        figure, or VENTRAL/DORSAL
    table_path : a table of gaps of single joints
    earlier_path : a document in which the facets are known
    by : who does it, as typed
    cache : folder of joints that were found, or off; empty: the usual one
    """

    document_path: Path
    gap_mm: str | None
    gap_share: str | None
    gaps: tuple[str, ...]
    table_path: Path | None
    pins: tuple[str, ...]
    earlier_path: Path | None
    reason: str
    by: str
    cache: str


def run_assemble(terminal: Terminal, order: Order) -> None:
    """Put the column together, write the document, and show how every joint was put together."""
    asked = AssemblyOrder(_read_every(order), _read_own(order), order.pins)
    document = read_document(order.document_path)
    earlier = None if order.earlier_path is None else read_document(order.earlier_path)
    folder = locate_mesh_folder(document, order.document_path)
    told = Record("correction", "assembled", (), "", order.reason.strip(), "", order.by.strip(), tell_time())
    with terminal.show_progress() as progress:
        done = assemble_document(document, folder, asked, told, earlier, progress, open_cache(order.cache))
    write_document(order.document_path, done.document)
    _show(terminal, done)
    terminal.show_line(f"{order.document_path}: written")
    terminal.show_result(_make_tree(order, done))


def _read_every(order: Order) -> ToldGap | None:
    if order.gap_mm is not None and order.gap_share is not None:
        raise CounterpoiseError("gap", "it is given twice", "give --gap-mm or --gap-share")
    if order.gap_mm is not None:
        return read_gap("every joint", order.gap_mm, "mm")
    return None if order.gap_share is None else read_gap("every joint", order.gap_share, "share")


def _read_own(order: Order) -> dict[str, ToldGap]:
    """By child, of a table and of texts NAME=MM, which win."""
    found: dict[str, ToldGap] = {}
    for text in order.gaps:
        name, _, figures = text.rpartition("=")
        if not name:
            raise CounterpoiseError("gap", f"{text!r} is no gap", "write the joint's element and millimetres: V4=3.5")
        if name in found:
            raise CounterpoiseError(name, "its gap is given twice", "give it once")
        found[name] = read_gap(f"joint of {name}", figures, "mm")
    return {**({} if order.table_path is None else read_gap_table(order.table_path)), **found}


def _show(terminal: Terminal, done: Assembly) -> None:
    heads = ("joint", "on", "facets", "gap mm", "gap", "leaning", "closing")
    terminal.show_table(heads, [_make_row(joint) for joint in done.joints], right=(3, 5))
    terminal.show_line()
    for opened in done.opened:
        terminal.show_line(_describe_open(opened))
    if done.upright:
        terminal.show_line("The whole was turned: x looks to the head now, z to the back.")
    remarked: dict[str, list[str]] = {}
    for joint in done.joints:
        for remark in joint.remarks:
            remarked.setdefault(remark, []).append(joint.child)
    for remark, children in remarked.items():
        terminal.show_line(f"To be looked at, {', '.join(children)}: {remark}.")
    for joint in done.joints:
        found = done.document.skeleton.joint_of(joint.child)
        if not found.moves and joint.facets_from:
            terminal.show_line(f"{joint.child}: no joint is found where it stands now: {found.reason}.")
    terminal.show_line("Poses stand as high as before: set those on the ground again whose feet moved.")


def _describe_open(opened: Open) -> str:
    share = opened.shift_m / opened.length_m if opened.length_m else 0.0
    far = f"{1000 * opened.shift_m:.1f} mm ({share:.1%} of the way) and {math.degrees(opened.turn_rad):.1f}°"
    return f"From {opened.start} to {opened.end} the chain was open by {far}; its joints share that."


def _make_row(joint: AssembledJoint) -> tuple[str, ...]:
    if not joint.facets_from:
        return (joint.child, joint.parent, "none: as it stood", "", "", "", _tell_share(joint))
    gap = "" if joint.gap_m is None else f"{1000 * joint.gap_m:.1f}"
    if isinstance(joint.gap, RimHeights):
        gap = f"{1000 * joint.gap.ventral_m:.1f}/{1000 * joint.gap.dorsal_m:.1f}"
    leaning = f"{math.degrees(joint.leaning_rad):.1f}°"
    return (joint.child, joint.parent, joint.facets_from, gap, joint.gap_from, leaning, _tell_share(joint))


def _tell_share(joint: AssembledJoint) -> str:
    share = joint.share
    if not (share.shift_m or share.turn_rad):
        return ""
    return f"{1000 * share.shift_m:.1f} mm, {math.degrees(share.turn_rad):.1f}°"


def _make_tree(order: Order, done: Assembly) -> dict[str, Any]:
    return {
        "document": str(order.document_path),
        "upright": done.upright,
        "joints": [
            {
                "child": joint.child,
                "parent": joint.parent,
                "facets_from": joint.facets_from,
                "gap_m": joint.gap_m,
                "ventral_m": joint.gap.ventral_m if isinstance(joint.gap, RimHeights) else None,
                "dorsal_m": joint.gap.dorsal_m if isinstance(joint.gap, RimHeights) else None,
                "gap_from": joint.gap_from,
                "leaning_rad": joint.leaning_rad,
                "closing_shift_m": joint.share.shift_m,
                "closing_turn_rad": joint.share.turn_rad,
                "remarks": list(joint.remarks),
            }
            for joint in done.joints
        ],
        "opened": [
            {
                "from": opened.start,
                "to": opened.end,
                "shift_m": opened.shift_m,
                "turn_rad": opened.turn_rad,
                "length_m": opened.length_m,
            }
            for opened in done.opened
        ],
    }
