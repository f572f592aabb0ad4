"""What was measured of a surface, as if it were solid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..spatial.transforms import Array

MeshState = Literal[
    "closed", "open", "inside out", "mixed winding", "empty", "duplicate", "doubled surface", "several bodies"
]
"""Named states of a mesh.

closed : every edge is met as often in one direction as in the other: the volume is exact
open : holes; the volume is an estimate with its error
inside out : wound inwards; turned before measuring
mixed winding : neighbouring triangles disagreed; made to agree before measuring
empty : no triangle left
duplicate : the same geometry is there a second time
doubled surface : every triangle was there twice; one skin was kept
several bodies : unconnected bodies, whose overlap (if any) is counted twice: see the volume's error
"""


@dataclass(frozen=True, eq=False)
class Solid:
    """What was measured of an element's surface, as if it were solid; element frame E (the file's axes, in metres).

    volume_m3 : enclosed volume
    volume_error_m3 : half-width of the estimate where the surface is open or bodies may overlap; 0 where it is exact
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
class Void:
    """What a casting with a wall leaves hollow: the points inside the surface deeper than the wall; element frame E.

    wall_m : the wall that was measured with
    volume_m3 : 0 where everything is thinner than two walls
    volume_error_m3 : half-width of what the resolution leaves open
    centre_m : (3,) centre of volume
    inertia_m5 : (3, 3) inertia about the centre per unit of density
    holes_error_m3 : how far the metal around it may be off for the sake of holes in the surface and of bodies that
        overlap; None: not known, hence that of the solid
    pits_m3 : how much larger the void is where pits that are narrower than the wall, and fragments inside, are passed
        over; None: not known
    skin_area_m2 : what the volume loses with a metre more of wall
    skin_centre_m : (3,) centre of the skin
    """

    wall_m: float
    volume_m3: float
    volume_error_m3: float
    centre_m: Array
    inertia_m5: Array
    skin_area_m2: float
    skin_centre_m: Array
    holes_error_m3: float | None = None
    pits_m3: float | None = None
