"""A disc that is a wedge, said by two heights: how far the rims of its end plates are apart on the belly and the back.

A height is measured along the disc (at right angles to the middle of the two end plates) from rim to rim, at the
animal's middle, as a calliper is held to bones: each rim's stretch that a jaw a quarter of the plate wide touches.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..spatial.transforms import Array, apply
from .facet_surfaces import trace_outline
from .facets import Patch

_JAW = 0.25
"""Of an end plate's width: so much of its rim tells where the rim is."""
_ALONG = np.linspace(0, 1, 20, endpoint=False)[:, None, None]


@dataclass(frozen=True)
class RimHeights:
    """How far two end plates are apart at their rims, on the belly's and on the back's side [m]."""

    ventral_m: float
    dorsal_m: float

    @property
    def mean_m(self) -> float:
        """Of the two."""
        return (self.ventral_m + self.dorsal_m) / 2


Gap = float | RimHeights | None
"""Of a pair of facets, wanted: its mean, or a wedge's heights [m]; None: not known."""


def find_back(plates: Sequence[Patch], zygapophyses: Sequence[Patch]) -> Array | None:
    """(3,) unit direction roughly to an element's back: from its end plates to its zygapophyses, none of it along it.

    None where it has not both.
    """
    if not plates or not zygapophyses:
        return None
    places = [[patch.points.mean(axis=0) for patch in patches] for patches in (plates, zygapophyses)]
    towards = np.mean(places[1], axis=0) - np.mean(places[0], axis=0)
    along = plates[0].normal - sum(plate.normal for plate in plates[1:])
    towards -= along * (towards @ along) / (along @ along)
    far = float(np.linalg.norm(towards))
    return towards / far if far > 0 else None


def find_rims(plate: Patch, back: Array) -> Array:
    """(2, 3) where the rim of an end plate is at the animal's middle: on the belly's side, on the back's.

    back : (3,) roughly to the animal's back, in the plate's frame
    """
    samples, normal = plate.samples, plate.normal
    outline = trace_outline(samples, np.arange(len(samples.points)))
    rim = samples.points if outline is None else _fill(outline)
    left = np.cross(back, normal)
    left /= np.linalg.norm(left)
    across, high = rim @ left, rim @ np.cross(normal, left)
    near = np.abs(across - _middle(across)) <= _JAW / 2 * np.ptp(across)
    upper = high > _middle(high)
    ends = near & ~upper, near & upper
    if not (ends[0].any() and ends[1].any()):  # no loop, but a few samples
        ends = high == high.min(), high == high.max()
    return np.array([rim[end].mean(axis=0) for end in ends])


class RimGap:
    """Two end plates, the second of which moves, with where their rims are."""

    def __init__(self, stand: Patch, move: Patch, back: Array, own_back: Array, wanted: RimHeights) -> None:
        """back, own_back : (3,) of either element in its own frame, roughly"""
        self.stand, self.move = find_rims(stand, back), find_rims(move, own_back)
        self.normals = stand.normal, move.normal
        self.wanted = np.array([wanted.ventral_m, wanted.dorsal_m])

    def want(self, D: Array, centre: Array, tolerance_m: float) -> tuple[Array, Array]:
        """What it makes of a small motion about a centre that both heights be as wanted; (2, 6) and (2,)."""
        axis, places = self._span(D)
        by = np.column_stack([np.tile(axis, (2, 1)), np.cross(places - centre, axis)])
        return by / tolerance_m, ((places - self.stand) @ axis - self.wanted) / tolerance_m

    def measure(self, D: Array) -> RimHeights:
        """The heights as they then are."""
        axis, places = self._span(D)
        ventral, dorsal = (places - self.stand) @ axis
        return RimHeights(float(ventral), float(dorsal))

    def _span(self, D: Array) -> tuple[Array, Array]:
        """Unit direction (3,) along the disc, away from the plate that stands, and the rims (2, 3) of the other."""
        axis = self.normals[0] - D[:3, :3] @ self.normals[1]
        return axis / np.linalg.norm(axis), apply(D, self.move)


def measure_heights(stand: Patch, move: Patch, back: Array) -> RimHeights:
    """How high the disc between two end plates is where they are; back : (3,) roughly to the animal's back."""
    return RimGap(stand, move, back, back, RimHeights(0.0, 0.0)).measure(np.eye(4))


def _fill(outline: Array) -> Array:
    """Points (n, 3) all along a closed loop."""
    filled: Array = (outline + _ALONG * (np.roll(outline, -1, axis=0) - outline)).reshape(-1, 3)
    return filled


def _middle(values: Array) -> float:
    return float(values.max() + values.min()) / 2
