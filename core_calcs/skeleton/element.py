"""An element: one rigid piece of skeleton, where its surface is kept, and what was measured of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..spatial.transforms import Array

Series = Literal["skull", "cervical", "dorsal", "sacral", "caudal", "ribs", "girdle", "limb", "other"]
Side = Literal["left", "right", "middle"]
Origin = Literal["scanned", "mirrored", "sculpted", "composite", "deformed", "not known"]
MeshState = Literal["closed", "open", "inside out", "empty", "duplicate", "doubled surface", "several bodies"]


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
class Solid:
    """What was measured of an element's surface, as if it were solid; element frame E (the file's axes, in metres).

    volume_m3 : enclosed volume
    volume_error_m3 : half-width of the estimate where the surface is not closed; 0 where it is
    centre_m : (3,) centre of volume
    inertia_m5 : (3, 3) inertia about the centre per unit of density
    lower_m, upper_m : (3,) corners of the bounding box
    triangles : how many
    states : every named state that applies; ("closed",) for a sound mesh
    """

    volume_m3: float
    volume_error_m3: float
    centre_m: Array
    inertia_m5: Array
    lower_m: Array
    upper_m: Array
    triangles: int
    states: tuple[MeshState, ...]


@dataclass(frozen=True, eq=False)
class Element:
    """One rigid piece of the skeleton.

    position : place in its series, from 1 (cervical and dorsal from the head, caudal from the sacrum); None where
        the series has no order
    X_WE : (4, 4) from the element's frame to the world of the neutral articulation
    """

    name: str
    series: Series
    position: int | None
    side: Side
    origin: Origin
    source: Source
    solid: Solid
    X_WE: Array
