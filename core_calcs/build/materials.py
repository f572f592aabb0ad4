"""Casting alloys and what they weigh. Densities are for a first weight: the foundry's own figure goes before them."""

from __future__ import annotations

from ..spatial.errors import CounterpoiseError
from .build import Build, Material

CHECK = "from memory, check before use"
PORE_SHARE = "half-width of 2 %: composition and porosity of sand castings, common practice, no source"


def _alloy(name: str, density_kg_m3: float, source: str) -> Material:
    return Material(name, density_kg_m3, 0.02 * density_kg_m3, f"{source}; {PORE_SHARE}")


MATERIALS: tuple[Material, ...] = (
    _alloy("CuSn5Zn5Pb5-C (CC491K)", 8700.0, "maker's sheet quoting EN 1982 (Kemper, cusn5zn5pb5-c-gs)"),
    _alloy("UNS C83600 (85-5-5-5)", 8830.0, "ASTM B505 / Copper Development Association data sheet"),
    _alloy("CuSn10-C (CC480K)", 8700.0, f"EN 1982, {CHECK}"),
    _alloy("CuSn11P-C (CC481K)", 8600.0, "maker's sheet (Kemper, cusn11p-c-gs)"),
    _alloy("UNS C90500 (88-10-2)", 8720.0, "maker's sheet (Unique Alloys, C90500)"),
    _alloy("UNS C90300 tin bronze", 8800.0, "maker's sheet, C90300"),
    _alloy("UNS C87300 silicon bronze", 8360.0, "Copper Development Association data sheet"),
    _alloy("UNS C87500 silicon brass", 8276.0, "maker's sheet (Concast, C87500)"),
    _alloy("CuAl10Fe5Ni5-C (CC333G)", 7600.0, f"EN 1982, {CHECK}"),
    _alloy("UNS C95400 aluminium bronze", 7450.0, f"Copper Development Association, {CHECK}"),
)
"""Nominal densities [kg/m³] with the half-width of their uncertainty."""

BONES: tuple[Material, ...] = (
    Material("bone, dense", 1900.0, 60.0, "tissue: 1.91 cortical, 1.87 cancellous g/cm³ (PMC4424685); no hollows"),
    Material(
        "bone with marrow spaces",
        1300.0,
        400.0,
        f"half-width from nearly dense to half hollow; {CHECK}",
    ),
    Material(
        "bone with air spaces",
        760.0,
        500.0,
        "tissue of 1.9 g/cm³ and air in .6 of the cross-section on average (.36 to .87 within ± 500 kg/m³); .89 is "
        "known of some neck vertebrae (svpow.com, cross-sections)",
    ),
)
"""The bones themselves, where they are mounted and not cast. A fossil weighs what its mineral does: weigh it."""

DISC_MATERIALS: tuple[Material, ...] = (
    Material("rubber, natural, soft", 1100.0, 110.0, f"common practice, no source; {CHECK}"),
    Material("polyurethane elastomer", 1200.0, 60.0, f"common practice, no source; {CHECK}"),
    Material("polyethylene (PE-HD)", 950.0, 20.0, f"common practice, no source; {CHECK}"),
    Material("stainless steel 1.4401, 1.4404", 8000.0, 80.0, "EN 10088-1 as tabled by the BSSA"),
)
"""What discs between elements are made of, besides the alloys."""


def find_material(name: str) -> Material:
    """The alloy, bone or disc's material of that name; CounterpoiseError where there is none."""
    for material in (*MATERIALS, *BONES, *DISC_MATERIALS):
        if material.name == name:
            return material
    known = ", ".join(material.name for material in (*MATERIALS, *BONES, *DISC_MATERIALS))
    raise CounterpoiseError(f"material {name!r}", "it is not in the table", f"take one of {known}, or give its density")


def default_build() -> Build:
    """Solid castings of silicon bronze: free of lead, and usual for outdoor castings (common practice, no source)."""
    return Build(find_material("UNS C87300 silicon bronze"))
