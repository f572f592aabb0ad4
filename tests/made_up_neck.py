"""A made-up atlas and axis: a peg in a ring, and paired facets that are sectors of a ring about the peg; no unit.

x runs to the head along the peg, z to the back. The facets lie in the plane x = 0, `GAP` apart.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "demo_blend"))
from strider.solids import block, join, keep, make_mesh, rod, roughen

from core_calcs.mesh.surface import Surface

PEG, GAP, SECTOR_DEG = 0.24, 0.05, 60.0
_RING, _OUTER = 0.55, 0.95


def make_atlas_and_axis(roughness: float = 0.0, peg: bool = True, cell: float = 0.035) -> tuple[Surface, Surface]:
    """The headward element with the ring, and the tailward one with the peg (or without)."""
    rng = np.random.default_rng(5)
    half = SECTOR_DEG / 2
    atlas = join(
        _ring(0.3, 0.9, 0.0, 180.0),
        *(keep(_ring(GAP / 2, 0.35, side, half)) for side in (0.0, 180.0)),
    )
    axis = join(
        block((-1.0, 0, 0), (0.7, 0.5, 0.45), rounding=0.05),
        *(_ring(-0.45, -GAP / 2, side, half) for side in (0.0, 180.0)),
        block((-0.55, 0, 0), (0.2, 0.9, 0.3), rounding=0.05),
        *([rod((-0.5, 0, 0), (0.75, 0, 0), PEG)] if peg else []),
    )
    made = []
    for solid, at in ((atlas, 0.5), (axis, -0.5)):
        uneven = roughen(solid, 2.0, roughness, rng) if roughness else solid
        made.append(Surface(*make_mesh(uneven, (at, 0, 0), 1.5, cell)))
    return made[0], made[1]


def _ring(low: float, high: float, towards_deg: float, half_deg: float):
    """A piece of a tube about x between two planes, so wide to either side of a direction from y towards z."""

    def distance(p):
        away = np.hypot(p[:, 1], p[:, 2])
        turned = np.angle(np.exp(1j * (np.arctan2(p[:, 2], p[:, 1]) - np.radians(towards_deg))))
        wedge = (np.abs(turned) - np.radians(half_deg)) * away
        wall = np.abs(away - (_RING + _OUTER) / 2) - (_OUTER - _RING) / 2
        ends = np.abs(p[:, 0] - (low + high) / 2) - (high - low) / 2
        return np.maximum.reduce([wall, ends, wedge])

    return distance
