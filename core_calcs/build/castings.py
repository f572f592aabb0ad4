"""Which element is cast how, and what of it is metal."""

from __future__ import annotations

import math

from ..mesh.mass_properties import MassProperties, join_properties
from ..mesh.solid import Void
from ..skeleton.element import Element
from ..spatial.errors import SkeletonError
from .build import Build, Casting, Material

SAME_WALL = 1e-9
"""Walls that differ by no more than this share are one."""


def find_casting(build: Build, element: Element) -> Casting:
    """How an element is cast: as said for itself, else for its series, else for all."""
    for own in build.element_castings:
        if own.element == element.name:
            return own.casting
    for series in build.series_castings:
        if series.series == element.series:
            return series.casting
    return build.casting


def find_material_of(build: Build, casting: Casting) -> Material:
    """What a casting is made of: its own material, else the build's."""
    return casting.material or build.material


def find_void(element: Element, wall_m: float) -> Void | None:
    """The void of an element behind a wall; None where it has not been measured."""
    for void in element.voids:
        if math.isclose(void.wall_m, wall_m, rel_tol=SAME_WALL):
            return void
    return None


def require_void(element: Element, casting: Casting) -> Void | None:
    """The void of an element's casting; None where it is none that is hollow.

    Raises
    ------
    SkeletonError : it has not been measured, or is larger than what the surface encloses
    """
    if casting.kind != "hollow":
        return None
    void = find_void(element, casting.wall_m)
    wall = f"a wall of {1000 * casting.wall_m:g} mm"
    if void is None:
        what = f"it is to be cast hollow with {wall}, but the void behind it has not been measured"
        raise SkeletonError(element.name, what, "set the casting with `counterpoise cast`, which measures it")
    if void.volume_m3 > element.solid.volume_m3 + element.solid.volume_error_m3 + void.volume_error_m3:
        what = f"the void behind {wall} is larger than what its surface encloses"
        raise SkeletonError(element.name, what, "mend its mesh, or cast it solid")
    return void


def measure_metal(element: Element, casting: Casting) -> MassProperties:
    """What of an element is metal, in its frame E, as of a body of density 1 kg/m³; see `require_void`."""
    solid = element.solid
    whole = MassProperties(solid.volume_m3, solid.centre_m, solid.inertia_m5)
    void = require_void(element, casting)
    if void is None or void.volume_m3 == 0.0:
        return whole
    empty = min((1 - casting.struts_share) * void.volume_m3, solid.volume_m3) / void.volume_m3
    return join_properties([whole, MassProperties(-empty * void.volume_m3, void.centre_m, -empty * void.inertia_m5)])


def find_pits(element: Element, casting: Casting) -> float:
    """How much less metal there is where pits are passed over [m3]; NaN where that is not known."""
    void = require_void(element, casting)
    if void is None:
        return 0.0
    return math.nan if void.pits_m3 is None else (1 - casting.struts_share) * void.pits_m3


def bound_own_error(element: Element, casting: Casting) -> float:
    """How far the metal's volume may be off for this element's own sake [m3]: surface, resolution, pits, struts.

    A hole in the surface of a hollow casting moves its wall: that takes or brings less than in a solid one.
    """
    solid, void = element.solid.volume_error_m3, require_void(element, casting)
    if void is None:
        return solid
    holes = solid if void.holes_error_m3 is None else min(void.holes_error_m3, solid)
    struts = casting.struts_share * solid + casting.struts_uncertainty_share * void.volume_m3
    return (1 - casting.struts_share) * (holes + void.volume_error_m3 + (void.pits_m3 or 0.0)) + struts


def bound_metal_error(element: Element, casting: Casting, scale_uncertainty_share: float) -> float:
    """How far the metal's volume may be off [m3]: surface, resolution, wall and scale at their worst together."""
    error = bound_own_error(element, casting)
    grown = 3 * element.solid.volume_m3
    void = require_void(element, casting)
    if void is not None:
        empty = 1 - casting.struts_share
        error += empty * void.skin_area_m2 * casting.wall_uncertainty_m
        # A larger scan has the same wall: its void grows by the skin times the wall more than in proportion.
        grown -= empty * (3 * void.volume_m3 + void.skin_area_m2 * casting.wall_m)
    return error + abs(grown) * scale_uncertainty_share
