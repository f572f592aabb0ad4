"""What an orientation audit has said of the elements: kept beside the scene, never in the .blend.

A verdict counts as long as its elements, and those that joints hold them to, are what they were and stand where they
stood. All are dropped on undo and load.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import bpy

from ..core_calcs.skeleton.element import Element
from ..core_calcs.skeleton.tree import Skeleton
from ..core_calcs.skeleton.verdict import Rating, Verdict, list_choices
from .figures import drawn_joints
from .kept_document import KeptDocument

NONE = "–"
"""Of a figure that a way does not have."""

Stand = dict[str, tuple[object, ...]]
"""By element what a verdict on it rests on: surface and place."""


@dataclass(frozen=True)
class VerdictFigure:
    """A verdict in words.

    number : in the order that the audit gave them
    ways : that elements may stand, the best first, each with its score; none of one alone, which compares with nothing
    table : the figures that make the scores: the name of each with what it is in every way
    best : the best way that was tried
    choices : of what is not found wrong, the ways that one who knows better may choose
    """

    number: int
    title: str
    fault: str
    decision: str
    what: str
    ways: tuple[tuple[str, str], ...]
    table: tuple[tuple[str, tuple[str, ...]], ...]
    elements: tuple[str, ...]
    best: str
    choices: tuple[str, ...]


@dataclass(frozen=True)
class AuditFigures:
    """The verdicts that still count, by decision.

    left_out : elements that could not be tried, each with why
    dropped : how many verdicts do not count any more, for what was changed since
    """

    wrong: tuple[VerdictFigure, ...]
    undecided: tuple[VerdictFigure, ...]
    as_placed: tuple[VerdictFigure, ...]
    left_out: tuple[tuple[str, str], ...]
    dropped: int


@dataclass
class _Kept:
    """Verdicts with what each rests on; active : the number of the one that is shown in full.

    digest, figures : of the document for which it was told last what still counts
    """

    verdicts: tuple[Verdict, ...]
    stands: tuple[Stand, ...]
    left_out: tuple[tuple[str, str], ...]
    active: int = -1
    digest: str = ""
    figures: AuditFigures | None = None


_kept: dict[tuple[int, int], _Kept] = {}
"""By the session numbers of scene and text block."""


def keep_audit(
    scene: bpy.types.Scene,
    kept: KeptDocument,
    verdicts: Sequence[Verdict],
    left_out: Sequence[tuple[str, str]] = (),
) -> AuditFigures:
    """Keep what an audit of the scene's document has said; the first that is wrong is shown in full."""
    skeleton = kept.document.skeleton
    stands = tuple(_describe_stand(skeleton, verdict.elements) for verdict in verdicts)
    held = _kept[_place(scene)] = _Kept(tuple(verdicts), stands, tuple(left_out))
    held.active = next((i for i, verdict in enumerate(verdicts) if verdict.decision == "wrong"), -1)
    return _tell(held, kept)


def drop_audit() -> None:
    """Forget every verdict: after undo, redo, load."""
    _kept.clear()


def drawn_audit(scene: bpy.types.Scene) -> AuditFigures | None:
    """What still counts for the document as it was last read; None where it was not audited."""
    held, (kept, _) = _kept.get(_place(scene)), drawn_joints(scene)
    return _tell(held, kept) if held is not None and kept is not None else None


def find_verdict(scene: bpy.types.Scene, kept: KeptDocument, number: int) -> Verdict | None:
    """A verdict by its number, below zero the one shown in full; None where it does not count for this document."""
    held = _kept.get(_place(scene))
    if held is None:
        return None
    number = held.active if number < 0 else number
    told = _tell(held, kept)
    counting = {own.number for own in (*told.wrong, *told.undecided, *told.as_placed)}
    return held.verdicts[number] if number in counting else None


def show_in_full(scene: bpy.types.Scene, number: int) -> None:
    """Choose the verdict that is shown in full."""
    if (held := _kept.get(_place(scene))) is not None:
        held.active = number


def shown_in_full(scene: bpy.types.Scene) -> int:
    """Number of the verdict that is shown in full; below zero: none."""
    held = _kept.get(_place(scene))
    return -1 if held is None else held.active


def _place(scene: bpy.types.Scene) -> tuple[int, int]:
    text = scene.counterpoise.document
    return scene.session_uid, text.session_uid if text is not None else 0


def _tell(held: _Kept, kept: KeptDocument) -> AuditFigures:
    if held.figures is not None and held.digest == kept.digest:
        return held.figures
    skeleton, found = kept.document.skeleton, []
    known = {element.name for element in skeleton.elements}
    for i, (verdict, stand) in enumerate(zip(held.verdicts, held.stands, strict=True)):
        if known.issuperset(verdict.elements) and _describe_stand(skeleton, verdict.elements) == stand:
            found.append(word_verdict(verdict, i))
    wrong, undecided, as_placed = (
        tuple(own for own in found if own.decision == decision) for decision in ("wrong", "undecided", "as placed")
    )
    held.digest = kept.digest
    held.figures = AuditFigures(wrong, undecided, as_placed, held.left_out, len(held.verdicts) - len(found))
    return held.figures


def word_verdict(verdict: Verdict, number: int) -> VerdictFigure:
    """A verdict in words."""
    return VerdictFigure(
        number,
        " – ".join(verdict.elements),
        verdict.fault,
        verdict.decision,
        f"{verdict.what[:1].upper()}{verdict.what[1:]}",
        tuple((rating.way, f"{rating.score:.2f}" if len(verdict.ratings) > 1 else NONE) for rating in verdict.ratings),
        _make_table(verdict.ratings),
        verdict.elements,
        verdict.ratings[0].way if verdict.ratings else "",
        list_choices(verdict),
    )


def _make_table(ratings: Sequence[Rating]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    of_ways = [dict(rating.figures) for rating in ratings]
    names = dict.fromkeys(name for figures in of_ways for name in figures)
    return tuple((name, tuple(_word_figure(figures.get(name)) for figures in of_ways)) for name in names)


def _word_figure(value: float | None) -> str:
    return NONE if value is None else f"{value:.3g}"


def _describe_stand(skeleton: Skeleton, names: Sequence[str]) -> Stand:
    """Surface and place of some elements and of all that joints hold them to."""
    around = set(names)
    for joint in skeleton.joints:
        own = {joint.parent, joint.child, *([joint.also] if joint.also is not None else [])}
        if own & set(names):
            around |= own
    return {element.name: _describe(element) for element in skeleton.elements if element.name in around}


def _describe(element: Element) -> tuple[object, ...]:
    return element.source, element.series, element.position, element.side, element.X_WE.tobytes()
