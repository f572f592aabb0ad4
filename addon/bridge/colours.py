"""One colour for each series of elements, for bones and proxies: light tints that tell apart without colour sight.

From the scheme of Okabe and Ito ("Color Universal Design", 2008), lightened for the proxies; no state is shown by them.
"""

from __future__ import annotations

BONE_COLOURS = {
    "skull": (0.80, 0.47, 0.65),
    "cervical": (0.00, 0.45, 0.70),
    "dorsal": (0.34, 0.71, 0.91),
    "sacral": (0.95, 0.90, 0.25),
    "caudal": (0.00, 0.62, 0.45),
    "ribs": (0.60, 0.60, 0.60),
    "girdle": (0.90, 0.62, 0.00),
    "limb": (0.84, 0.37, 0.00),
    "other": (0.75, 0.75, 0.75),
}

IVORY = (0.82, 0.78, 0.68)


def proxy_colour(series: str) -> tuple[float, float, float, float]:
    """Ivory with a fifth of the series' colour."""
    tint = BONE_COLOURS[series]
    return (*(0.8 * ivory + 0.2 * own for ivory, own in zip(IVORY, tint, strict=True)), 1.0)
