"""The place where the skeleton stands."""

from __future__ import annotations

from dataclasses import dataclass, field

from .actions import Factors, Footing, PointAction, Wind

GRAVITY = 9.80665
"""Standard gravity [m/s²], ISO 80000-3 / 3rd CGPM 1901."""


@dataclass(frozen=True)
class Site:
    """The ground, and what acts on the skeleton there besides its own weight.

    ground_m : height of the ground in the world
    contact_tolerance_m : a foot's point this close to the ground, or lower, stands on it. Some half a percent of the
        body's height: what grout or shims under a foot take up (common practice, no source); more for a large mount
    datum_m : (x, y, z) in the world of the point that base moments are taken about; None: the middle of the support
        polygon, on the ground
    reserve_m : a distance margin below this is `close`
    clearance_share_s : so deep an element may run into another and be `close`, a share of the smaller one's size s;
        deeper it fails. A fiftieth: about what the elements' resolution leaves open, and what limits allow of contact
    friction : coefficient between every foot and what is under it whose footing names none; None: not known. Steel on
        grout is said to have .2, metal on rough concrete .4 to .6 (EN 1993-1-8, from memory; common practice)
    footings : of feet that stand otherwise than on level ground, equally stiff, held by friction alone
    actions : in the user's order; names are unique
    wind : None: none acts, or none is known
    directions : so many, evenly round from x, in which wind comes, and a push or pull that is worst somewhere is tried
    factors : partial factors on all of it
    """

    ground_m: float = 0.0
    contact_tolerance_m: float = 0.005
    datum_m: tuple[float, float, float] | None = None
    reserve_m: float = 0.0
    clearance_share_s: float = 0.02
    friction: float | None = None
    footings: tuple[Footing, ...] = ()
    actions: tuple[PointAction, ...] = ()
    wind: Wind | None = None
    directions: int = 36
    factors: Factors = field(default_factory=Factors)
