"""What `counterpoise place` does."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..document.document import SkeletonDocument
from ..document.reading import read_document
from ..spatial.errors import CounterpoiseError
from ..studies.places_by_hand import (
    Placed,
    list_placed,
    move_and_turn,
    place_in_document,
    restore_in_document,
    straddle_in_document,
)
from .recording import write_recorded
from .terminal import Terminal

Vector = tuple[float, float, float]


@dataclass(frozen=True)
class Order:
    """What the user asked for.

    move_mm : in the world of the neutral articulation, as all
    turn_deg : direction of the axis, and the angle
    about_mm : a point of the axis; None: the element's centre of volume
    scanned : back to where it was scanned
    by : who does it, as typed
    also, alone : a second element that it follows, half and half, empty for none; its parent alone again
    """

    document_path: Path
    element: str
    move_mm: Vector | None
    turn_deg: tuple[float, float, float, float] | None
    about_mm: Vector | None
    reason: str
    scanned: bool
    also: str
    alone: bool
    by: str


def run_place(terminal: Terminal, order: Order) -> None:
    """Place an element, or put it back, write the document where that changed it, and show what was placed."""
    document = read_document(order.document_path)
    changed = _change(document, order)
    if changed is not document:
        write_recorded(order.document_path, document, changed, order.by)
    placed = list_placed(changed.skeleton)
    heads = ("element", "on", "x mm", "y mm", "z mm", "turned by", "about", "reason")
    terminal.show_table(heads, [_make_row(own) for own in placed], right=(2, 3, 4, 5))
    terminal.show_line()
    if not placed:
        terminal.show_line("No element was placed by hand: all stand where they were scanned.")
    straddling = [joint for joint in changed.skeleton.joints if joint.also is not None]
    if straddling:
        terminal.show_line()
        terminal.show_table(
            ("element", "follows", "and"), [(own.child, own.parent, own.also or "") for own in straddling], right=()
        )
        terminal.show_line()
    state = "as it was" if changed is document else "written"
    terminal.show_line(f"{order.document_path}: {state}")
    terminal.show_result(
        {
            "document": str(order.document_path),
            "state": state,
            "placed": [_make_tree(own) for own in placed],
            "straddling": [{"element": own.child, "parent": own.parent, "also": own.also} for own in straddling],
        }
    )


def _change(document: SkeletonDocument, order: Order) -> SkeletonDocument:
    _refuse(order)
    if order.also or order.alone:
        document = straddle_in_document(document, order.element, order.also or None)
    if order.scanned:
        return restore_in_document(document, order.element)
    if order.move_mm is None and order.turn_deg is None:
        return document
    *axis, degrees = order.turn_deg or (1.0, 0.0, 0.0, 0.0)
    shift = np.array(order.move_mm or (0.0, 0.0, 0.0)) / 1000
    about = None if order.about_mm is None else np.array(order.about_mm) / 1000
    X_WE = move_and_turn(document.skeleton, order.element, shift, axis, math.radians(degrees), about)
    return place_in_document(document, order.element, X_WE, order.reason)


def _refuse(order: Order) -> None:
    """CounterpoiseError where the options do not say one thing whole."""
    moving = order.move_mm is not None or order.turn_deg is not None
    following = bool(order.also or order.alone)
    if (moving or following or order.scanned or order.reason or order.about_mm) and not order.element:
        raise CounterpoiseError("place", "no element is named", "give --element NAME too")
    if order.scanned and moving:
        raise CounterpoiseError(order.element, "it cannot be moved and go back at once", "give one of the two")
    if order.scanned and order.reason:
        raise CounterpoiseError(order.element, "going back to the scan keeps no reason", "leave --reason out")
    if order.also and order.alone:
        raise CounterpoiseError(order.element, "it cannot follow one element and two", "give --also or --alone")
    if order.element and not (moving or following or order.scanned):
        raise CounterpoiseError(order.element, "no move or turn is given", "give --move-mm, --turn-deg or --scanned")
    if order.reason and not moving:
        raise CounterpoiseError(order.element, "a reason is given, but no move", "give --move-mm or --turn-deg too")
    if order.about_mm is not None and order.turn_deg is None:
        raise CounterpoiseError(order.element, "a point is given, but no turn about it", "give --turn-deg too")


def _make_row(placed: Placed) -> tuple[str, ...]:
    shift = (f"{value:.1f}" for value in (1000 * placed.shift_m).round(1) + 0.0)
    x, y, z = placed.axis.round(2) + 0.0
    turn = (f"{math.degrees(placed.angle_rad):.1f}°", f"({x:g}, {y:g}, {z:g})") if placed.angle_rad else ("", "")
    return (placed.element, placed.parent, *shift, *turn, placed.reason)


def _make_tree(placed: Placed) -> dict[str, object]:
    return {
        "element": placed.element,
        "parent": placed.parent,
        "shift_mm": (1000 * placed.shift_m).tolist(),
        "axis": placed.axis.tolist(),
        "angle_deg": math.degrees(placed.angle_rad),
        "reason": placed.reason,
    }
