"""What runs into what in words: rows of a table."""

from __future__ import annotations

from ..site.site import Site
from ..studies.clearance import Clearance, Hit
from .quantities import format_column, format_fixed, format_setting
from .report_lines import Line

MOST_HITS = 20
"""So many are listed; the rest is counted, and in hits.csv."""


def list_hits(clearance: Clearance | None) -> tuple[Line, ...]:
    """Elements, how much deeper than at neutral, how much is allowed, how deep at neutral [mm], place x, y, z [m]."""
    hits = () if clearance is None else clearance.hits[:MOST_HITS]
    figures = [1000 * value for hit in hits for value in (hit.depth_m, hit.allowed_m, hit.neutral_m)]
    texts = format_column(figures)
    return tuple(_make_line(hit, texts[3 * i : 3 * i + 3]) for i, hit in enumerate(hits))


def _make_line(hit: Hit, depths: list[str]) -> Line:
    place = ", ".join(format_fixed(float(p), 3) for p in hit.place_m)
    return Line((" – ".join(hit.elements), *depths, place), hit.state, hit.state)


def count_rest(clearance: Clearance | None) -> int:
    """How many hits the list leaves out."""
    return 0 if clearance is None else max(len(clearance.hits) - MOST_HITS, 0)


def describe_allowance(site: Site) -> str:
    """What elements that no joint holds together may run into each other."""
    return f"{format_setting(100 * site.clearance_share_s, '%')} of the smaller one's size"
