"""What `counterpoise audit` does."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from ..document.meshes import locate_mesh_folder
from ..document.reading import read_document
from ..skeleton.verdict import Verdict, list_choices
from ..spatial.transforms import Array
from ..studies.audit import Audit, audit_document
from .terminal import Terminal

SIZE = "s is an element's own size, the cube root of its volume; s² is an area in that measure."


def run_audit(terminal: Terminal, document_path: Path) -> bool:
    """Show what is said of every element that was tried; whether none is said to be wrong."""
    document = read_document(document_path)
    with terminal.show_progress() as progress:
        audit = audit_document(document, locate_mesh_folder(document, document_path), progress)
    if audit.verdicts:
        heads = ("element", "decision", "best way", "score", "next best way", "score")
        terminal.show_table(heads, [_make_row(verdict) for verdict in audit.verdicts], right=(3, 5))
        terminal.show_line()
    told = [*audit.list_decided("wrong"), *(own for own in audit.list_decided("undecided") if len(own.ratings) < 2)]
    for verdict in told:
        terminal.show_line(f"{', '.join(verdict.elements)}: {verdict.what}.")
    if told:
        terminal.show_line(SIZE)
    ways = dict.fromkeys(way for verdict in audit.verdicts for way in list_choices(verdict))
    if ways:
        terminal.show_line(
            f"Where you know better than undecided or as placed, `correct` takes --way: {', '.join(ways)}."
        )
    for name, why in audit.left_out:
        terminal.show_line(f"{name}: not tried: {why}.")
    terminal.show_line(_count(audit))
    terminal.show_result(
        {
            "document": str(document_path),
            "verdicts": [_make_tree(verdict) for verdict in audit.verdicts],
            "left_out": [{"element": name, "why": why} for name, why in audit.left_out],
        }
    )
    return not audit.list_decided("wrong")


def _count(audit: Audit) -> str:
    if not audit.verdicts:
        return "There are no two vertebrae and no pair of limb bones: nothing was tried."
    counts = [f"{len(audit.list_decided(decision))} {decision}" for decision in ("as placed", "wrong", "undecided")]
    return f"{len(audit.verdicts)} tried: {', '.join(counts)}."


def _make_row(verdict: Verdict) -> tuple[str, ...]:
    """A row of the table; without another way that was tried there is no score to compare, and none is shown."""
    first, second = (*verdict.ratings, None, None)[:2]
    best = (first.way, f"{first.score:.2f}" if second else "–") if first else ("", "")
    next_best = (second.way, f"{second.score:.2f}") if second else ("none tried", "–")
    return (", ".join(verdict.elements), verdict.decision, *best, *next_best)


def _make_tree(verdict: Verdict) -> dict[str, object]:
    return {
        "fault": verdict.fault,
        "elements": list(verdict.elements),
        "decision": verdict.decision,
        "what": verdict.what,
        "ratings": [
            {
                "way": rating.way,
                "score": rating.score,
                "figures": dict(rating.figures),
                "places": _list_places(rating.places),
            }
            for rating in verdict.ratings
        ],
        "places": _list_places(verdict.places),
    }


def _list_places(places: Mapping[str, Array]) -> dict[str, list[list[float]]]:
    return {name: np.asarray(X_WE).tolist() for name, X_WE in places.items()}
