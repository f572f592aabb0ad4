"""An element: one rigid piece of skeleton, where its surface is kept, and what was measured of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..mesh.solid import MeshState as MeshState
from ..mesh.solid import Solid as Solid
from ..mesh.solid import Void as Void
from ..spatial.transforms import Array

Series = Literal["skull", "cervical", "dorsal", "sacral", "caudal", "ribs", "girdle", "limb", "other"]
Side = Literal["left", "right", "middle"]
Origin = Literal["scanned", "mirrored", "scaled", "sculpted", "composite", "deformed", "not known"]
"""Mirrored: of its pair or of itself; scaled: of a neighbour in the series."""


@dataclass(frozen=True)
class Source:
    """Where an element's full-resolution surface is kept.

    file : path relative to the mesh folder, with forward slashes
    body : number of the body within the file, counted from 1 in the survey's order; None for the whole file
    unit_m : length of the file's unit [m]
    sha256 : of the file's bytes
    """

    file: str
    body: int | None
    unit_m: float
    sha256: str


@dataclass(frozen=True, eq=False)
class Element:
    """One rigid piece of the skeleton.

    position : place in its series, from 1 (cervical and dorsal from the head, caudal from the sacrum); None where
        the series has no order
    X_WE : (4, 4) from the element's frame to the world of the neutral articulation
    voids : what castings with a wall leave hollow, for every wall that was ever asked for
    made_from : of a bone that was made here, the element whose surface it was made from; empty of all others
    """

    name: str
    series: Series
    position: int | None
    side: Side
    origin: Origin
    source: Source
    solid: Solid
    X_WE: Array
    voids: tuple[Void, ...] = ()
    made_from: str = ""
