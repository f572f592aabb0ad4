"""How the skeleton is to be made."""

from __future__ import annotations

from dataclasses import dataclass


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
class Build:
    """Every element a solid casting of one material."""

    material: Material
