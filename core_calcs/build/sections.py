"""Sections of steelwork and what they weigh by length: round tubes and bars, from their measures."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..spatial.errors import CounterpoiseError

STEEL_KG_M3 = 7850.0
"""Density of structural steel as EN 10210-2 takes it for nominal masses (from memory; stainless: 7900)."""

MASS_UNCERTAINTY_SHARE = 0.06
"""Half-width of mass by length: EN 10210-2 allows single lengths ± 6 % (from memory, check before use)."""

TABLE_SOURCE = (
    "closed form from its measures at 7850 kg/m³, as the tables of EN 10210-2 have it; ± 6 % as that standard allows "
    "for single lengths (from memory, check before use)"
)


@dataclass(frozen=True)
class Section:
    """A round section; wall_mm of None: a bar."""

    name: str
    diameter_mm: float
    wall_mm: float | None

    @property
    def kg_per_m(self) -> float:
        """Mass by length."""
        inner = 0.0 if self.wall_mm is None else self.diameter_mm - 2 * self.wall_mm
        return STEEL_KG_M3 * math.pi / 4 * (self.diameter_mm**2 - inner**2) * 1e-6


def make_section(diameter_mm: float, wall_mm: float | None) -> Section:
    """A tube or bar of these measures; CounterpoiseError where the wall does not fit in."""
    if wall_mm is not None and not 0 < 2 * wall_mm < diameter_mm:
        what = f"a wall of {wall_mm:g} mm does not fit in a tube of {diameter_mm:g} mm"
        raise CounterpoiseError("section", what, "give outer diameter and wall; leave the wall out for a bar")
    name = f"bar {diameter_mm:g}" if wall_mm is None else f"CHS {diameter_mm:g}x{wall_mm:g}"
    return Section(name, diameter_mm, wall_mm)


SECTIONS: tuple[Section, ...] = tuple(
    make_section(diameter, wall)
    for diameter, wall in (
        (21.3, 2.6),
        (26.9, 2.6),
        (33.7, 3.2),
        (42.4, 3.2),
        (48.3, 4.0),
        (60.3, 4.0),
        (76.1, 5.0),
        (88.9, 5.0),
        (114.3, 6.3),
        (139.7, 6.3),
        (168.3, 8.0),
        (168.3, 10.0),
        (219.1, 10.0),
        (244.5, 10.0),
        (16.0, None),
        (20.0, None),
        (30.0, None),
        (50.0, None),
    )
)
"""Usual round tubes and bars."""


def find_section(name: str) -> Section:
    """The section of that name in `SECTIONS`; CounterpoiseError where there is none."""
    for section in SECTIONS:
        if section.name == name:
            return section
    known = ", ".join(section.name for section in SECTIONS)
    raise CounterpoiseError(f"section {name!r}", "it is not in the table", f"take one of {known}, or give its measures")
