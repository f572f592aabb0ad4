"""One thing that was found about an element, in words and figures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

UNIT_WORDS = {"m": "metres", "cm": "centimetres", "mm": "millimetres", "in": "inches", "ft": "feet"}

FindingKind = Literal["unit", "size", "shape", "place", "gap", "order", "side", "orientation", "origin"]
"""Named findings.

unit : its figures fit in another unit than the table's
size : larger or smaller than its partner, or than its neighbours in the series let expect
shape : of other proportions than its partner
place : it stands away from where its neighbours or its partner let expect it
gap : room for missing elements between it and the next
order : it and its neighbour stand in each other's place
side : left and right are confused
orientation : turned against its neighbours in the series
origin : where it comes from is not what the table says
"""


@dataclass(frozen=True)
class Finding:
    """What was found.

    element : name of the element concerned
    what : what is the matter, with figures; remedy : what to do
    others : names of further elements that it is about
    """

    kind: FindingKind
    element: str
    what: str
    remedy: str
    others: tuple[str, ...] = ()


def in_mm(length_m: float) -> str:
    """A length in millimetres, to two figures below ten."""
    return f"{1000 * length_m:.0f} mm" if abs(length_m) >= 0.01 else f"{1000 * length_m:.2g} mm"
