"""What in a document somebody has corrected or set by hand: what, to which elements, and why."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from ..skeleton.joint import FacetMark, Joint
from ..skeleton.tree import Skeleton
from ..studies.disc_thickness import list_discs
from ..studies.places_by_hand import list_placed, measure_placed

InterventionKind = Literal[
    "placed by hand", "joint set by hand", "fixed by hand", "facet marked", "disc set", "follows two"
]


@dataclass(frozen=True)
class Intervention:
    """One thing that is not as it was scanned or found.

    elements : in the skeleton's order
    how : what was done, with its figures; empty where the kind says all
    why : in the user's words; empty where none are kept
    """

    kind: InterventionKind
    elements: tuple[str, ...]
    how: str
    why: str


def list_interventions(skeleton: Skeleton) -> tuple[Intervention, ...]:
    """All that stands in the document as it is now; of one kind, alike and for the same reason as one."""
    found: list[tuple[InterventionKind, str, str, str]] = []
    found += [("placed by hand", own.element, measure_placed(own), own.reason) for own in list_placed(skeleton)]
    for joint in skeleton.joints:
        if joint.confidence == "by hand":
            kind: InterventionKind = "joint set by hand" if joint.moves else "fixed by hand"
            found.append((kind, joint.child, "", joint.reason))
        if joint.marks:
            found.append(("facet marked", joint.child, _tell_marks(joint.marks), ""))
        if joint.also != joint.also_in_table:
            found.append(("follows two", joint.child, _tell_second(joint), ""))
    for disc in list_discs(skeleton):
        if disc.is_set:
            how = f"{1000 * disc.thickness_m:.1f} mm thick at neutral"
            found.append(("disc set", disc.child, how, disc.reason))
    return tuple(_join_alike(found))


def _tell_marks(marks: tuple[FacetMark, ...]) -> str:
    return "facet marked on " + " and ".join(mark.element for mark in marks)


def _tell_second(joint: Joint) -> str:
    if joint.also is None:
        return f"follows {joint.parent} alone, not {joint.also_in_table} too"
    return f"follows {joint.parent} and {joint.also}, half and half"


def _join_alike(found: Iterable[tuple[InterventionKind, str, str, str]]) -> Iterable[Intervention]:
    alike: dict[tuple[InterventionKind, str, str], list[str]] = {}
    for kind, element, how, why in found:
        alike.setdefault((kind, how, why), []).append(element)
    return (Intervention(kind, tuple(names), how, why) for (kind, how, why), names in alike.items())
