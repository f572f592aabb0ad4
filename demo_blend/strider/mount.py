"""The quay strider as somebody mounted it: a vertebra of the tail end for end, two others in each other's place.

Scans are named by where they stand: of the two that are exchanged, each file holds the other vertebra. Each is
threaded on the rod by the middle of its centrum. What was done is told for the demo to hold against what it puts right.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .animal import name_vertebra
from .column import plan_column
from .scans import Scan
from .solids import Array

TURNED = "caudal 12"
EXCHANGED = ("caudal 25", "caudal 26")

END_FOR_END = np.diag([-1.0, -1.0, 1.0, 1.0])


@dataclass(frozen=True)
class Mounted:
    """A bone that was mounted wrongly.

    element : what it is; file : in which its scan lies; X_WE : (4, 4) the motion that takes the scan where it belongs
    """

    element: str
    file: str
    X_WE: Array


def mount_wrongly(scans: Sequence[Scan]) -> tuple[list[Scan], list[Mounted]]:
    """The scans with three bones mounted wrongly, and what they are."""
    of = {scan.row["element"]: scan for scan in scans}
    X_WV = {name_vertebra(v): v.shape.X_WV for v in plan_column()}
    one, other = EXCHANGED
    moves = [
        (TURNED, TURNED, X_WV[TURNED] @ END_FOR_END @ np.linalg.inv(X_WV[TURNED])),
        (one, other, X_WV[other] @ np.linalg.inv(X_WV[one])),
        (other, one, X_WV[one] @ np.linalg.inv(X_WV[other])),
    ]
    stood = dict(of)
    for bone, place, X in moves:
        vertices = of[bone].vertices @ X[:3, :3].T + 1000 * X[:3, 3]
        stood[place] = replace(of[place], vertices=vertices, faces=of[bone].faces)
    told = [Mounted(bone, of[place].file, np.linalg.inv(X)) for bone, place, X in moves]
    return list(stood.values()), told
