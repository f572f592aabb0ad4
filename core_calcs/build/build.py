"""How the skeleton is to be made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..skeleton.element import Series

CastingKind = Literal["solid", "hollow"]


@dataclass(frozen=True)
class Material:
    """What elements are cast in.

    density_kg_m3 : with half-width density_doubt_kg_m3
    source : where the density comes from
    """

    name: str
    density_kg_m3: float
    density_doubt_kg_m3: float
    source: str


@dataclass(frozen=True)
class Casting:
    """How elements are cast. The wall of art bronzes is 4 to 6 mm, more where it carries (common practice, no source).

    kind : hollow: the points deeper than the wall are void, so that what is thinner than two walls stays solid
    wall_m : of hollow castings, with half-width wall_doubt_m
    struts_share : of a void's volume that struts or a lattice fill with metal
    """

    kind: CastingKind = "solid"
    wall_m: float = 0.005
    wall_doubt_m: float = 0.001
    struts_share: float = 0.0


@dataclass(frozen=True)
class SeriesCasting:
    """How the elements of one series are cast."""

    series: Series
    casting: Casting


@dataclass(frozen=True)
class ElementCasting:
    """How one element is cast."""

    element: str
    casting: Casting


@dataclass(frozen=True)
class Weighing:
    """What a finished casting weighs: it goes before what is calculated.

    mass_kg : with half-width doubt_kg
    note : when, where, on what scales
    """

    element: str
    mass_kg: float
    doubt_kg: float
    note: str


@dataclass(frozen=True)
class Build:
    """Castings of one material.

    casting : of every element that neither an element's nor a series' own casting names
    element_castings : go before those of the series
    scale_doubt_share : half-width of the doubt about the scans' scale, as a share of every length
    """

    material: Material
    casting: Casting = Casting()
    series_castings: tuple[SeriesCasting, ...] = ()
    element_castings: tuple[ElementCasting, ...] = ()
    weighings: tuple[Weighing, ...] = ()
    scale_doubt_share: float = 0.0
