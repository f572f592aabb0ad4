"""How the skeleton is to be made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..skeleton.element import Series

CastingKind = Literal["solid", "hollow", "bone"]


@dataclass(frozen=True)
class Material:
    """What elements are made of, or discs between them.

    density_kg_m3 : with half-width density_uncertainty_kg_m3
    source : where the density comes from
    """

    name: str
    density_kg_m3: float
    density_uncertainty_kg_m3: float
    source: str


@dataclass(frozen=True)
class Casting:
    """How elements are cast. The wall of art bronzes is 4 to 6 mm, more where it carries (common practice, no source).

    kind : hollow: the points deeper than the wall are void, so that what is thinner than two walls stays solid; bone:
        no casting but the bone itself, of a material of its own
    wall_m : of hollow castings, with half-width wall_uncertainty_m
    struts_share : of a void's volume that struts or a lattice fill with metal, with half-width struts_uncertainty_share
    material : None: the build's
    """

    kind: CastingKind = "solid"
    wall_m: float = 0.005
    wall_uncertainty_m: float = 0.001
    struts_share: float = 0.0
    struts_uncertainty_share: float = 0.0
    material: Material | None = None


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

    mass_kg : with half-width uncertainty_kg
    note : when, where, on what scales
    """

    element: str
    mass_kg: float
    uncertainty_kg: float
    note: str


@dataclass(frozen=True)
class Disc:
    """What fills the gap of a joint; it goes with the joint's child.

    child : of the joint
    thickness_m : None: as the gap between the end plates is at neutral
    thickness_uncertainty_m : half-width; None: a fifth of the thickness
    area_m2 : square to the thickness
    weighed_kg : what it was found to weigh, with half-width weighed_uncertainty_kg; None: as calculated
    """

    child: str
    material: Material
    thickness_m: float | None
    thickness_uncertainty_m: float | None
    area_m2: float
    weighed_kg: float | None = None
    weighed_uncertainty_kg: float = 0.0


@dataclass(frozen=True)
class Steelwork:
    """Steel of one section that runs inside elements, from the centre of one through the joints to that of another.

    name : unique
    start, end : the elements in which it begins and ends
    section : as the trade calls it
    kg_per_m : with half-width kg_per_m_uncertainty
    source : where that comes from
    length_m : of the whole; None: as far as it is along the joints
    """

    name: str
    start: str
    end: str
    section: str
    kg_per_m: float
    kg_per_m_uncertainty: float
    source: str
    length_m: float | None = None


@dataclass(frozen=True)
class Build:
    """What everything is made of.

    material : of every casting that names none of its own
    casting : of every element that neither an element's nor a series' own casting names
    element_castings : go before those of the series
    scale_uncertainty_share : half-width of the uncertainty of the scans' scale, as a share of every length
    discs : in joints, one at most in each
    steelwork : inside the elements
    """

    material: Material
    casting: Casting = Casting()
    series_castings: tuple[SeriesCasting, ...] = ()
    element_castings: tuple[ElementCasting, ...] = ()
    weighings: tuple[Weighing, ...] = ()
    scale_uncertainty_share: float = 0.0
    discs: tuple[Disc, ...] = ()
    steelwork: tuple[Steelwork, ...] = ()
