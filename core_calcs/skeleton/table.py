"""The element table: what every file or body is, and what it hangs on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .element import Origin, Series, Side

Attachment = Literal["root", "column", "fixed", "left out"]


@dataclass(frozen=True)
class TableRow:
    """One row of the element table.

    file : relative to the mesh folder, forward slashes
    body : number of the body in the file from 1 in the survey's order; None: the whole file
    unit : of the file, e.g. "mm"
    element : name, unique
    parent : name of another element; empty for the root and for what is left out
    attachment : `column`: a joint with facets is looked for; `fixed`: none
    reason : why it is fixed or left out; empty otherwise
    """

    file: str
    body: int | None
    unit: str
    element: str
    series: Series
    position: int | None
    side: Side
    parent: str
    attachment: Attachment
    reason: str
    origin: Origin
