"""The mid-plane of a skeleton, from its own left-right pairs and the elements on its mid-line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..skeleton.element import Element
from ..skeleton.element_names import name_partner
from ..spatial.transforms import Array, apply

AXIAL = ("skull", "cervical", "dorsal", "sacral", "caudal")
"""Series whose elements lie on the mid-line."""

_ROUNDS = 60
_TUKEY = 6.0
"""Elements farther off than so many times the middle one have no say."""
_FINEST = 1e-7
"""Of the skeleton's extent: nearer than this counts as exact."""


@dataclass(frozen=True, eq=False)
class MirrorPlane:
    """Where left meets right.

    normal : (3,) unit direction to the animal's left, in the world
    offset_m : of the points on it along the normal
    residual_m : how far the elements are from their partners' mirror images, the middle one of them; None where the
        plane rests on no pair
    pairs, middles : how many told
    """

    normal: Array
    offset_m: float
    residual_m: float | None
    pairs: int
    middles: int

    @property
    def X_WW(self) -> Array:
        """(4, 4) takes points to their mirror images."""
        X = np.eye(4)
        X[:3, :3] -= 2 * np.outer(self.normal, self.normal)
        X[:3, 3] = 2 * self.offset_m * self.normal
        return X

    def describe(self) -> str:
        """What it rests on, in words."""
        if self.residual_m is None:
            return "mid-plane across the world's y, through the elements of the mid-line: there is no left-right pair"
        pairs = "1 left-right pair" if self.pairs == 1 else f"{self.pairs} left-right pairs"
        return (
            f"mid-plane through {pairs} and {self.middles} of the mid-line, which lie "
            f"{1000 * self.residual_m:.2g} mm off its mirror images (median)"
        )


def find_mirror_plane(elements: Sequence[Element]) -> MirrorPlane:
    """The plane that takes the centres of left elements to those of their partners, and those of the mid-line to
    themselves, as nearly as can be; who stands elsewhere has no say.

    Without any pair it is the plane across the world's y, which points to the left by convention.
    """
    known = {element.name: element for element in elements if element.solid.volume_m3 > 0}
    left = [(own, known[name_partner(own.name)]) for own in known.values() if _has_partner(own, known)]
    middle = [own for own in known.values() if own.side == "middle" and own.series in AXIAL]
    on_middle = np.array([find_centre(own) for own in middle]).reshape(-1, 3)
    if not left:
        offset = float(np.median(on_middle[:, 1])) if len(middle) else 0.0
        return MirrorPlane(np.array([0.0, 1.0, 0.0]), offset, None, 0, len(middle))
    lefts = np.array([find_centre(own) for own, _ in left])
    rights = np.array([find_centre(partner) for _, partner in left])
    normal, offset, off = _fit_plane(np.concatenate([lefts, on_middle]), np.concatenate([rights, on_middle]))
    if ((lefts - rights) @ normal).sum() < 0:
        normal, offset = -normal, -offset
    return MirrorPlane(normal, offset, float(np.median(off)), len(left), len(middle))


def find_centre(element: Element) -> Array:
    """(3,) centre of volume in the world of the neutral articulation [m]."""
    centre: Array = apply(element.X_WE, element.solid.centre_m[None, :])[0]
    return centre


def _has_partner(element: Element, known: dict[str, Element]) -> bool:
    partner = known.get(name_partner(element.name))
    return element.side == "left" and partner is not None and partner.side == "right"


def _fit_plane(one: Array, other: Array) -> tuple[Array, float, Array]:
    """Unit normal, offset and what is left (n,) of the reflection that takes points (n, 3) to others, both ways.

    With p and q from the weighted mean of all, the sum of |q − p + 2 (n·p) n|² is that of |q − p|² + 4 (n·p)(n·q): the
    normal is the eigenvector of the least eigenvalue of the sum of the symmetric part of p qᵀ. Weights fall with the
    distance first (least absolute distances), then to nothing beyond some times the middle one (Tukey).
    """
    extent = float(np.linalg.norm(np.ptp(np.concatenate([one, other]), axis=0)))
    weights = np.ones(len(one))
    for step in range(_ROUNDS):
        centre = weights @ (one + other) / (2 * weights.sum())
        p, q = one - centre, other - centre
        product = np.einsum("i,ij,ik->jk", weights, p, q)
        normal: Array = np.linalg.eigh(product + product.T)[1][:, 0]
        off = np.linalg.norm(q - p + 2 * (p @ normal)[:, None] * normal, axis=1)
        if step < _ROUNDS // 2:
            weights = 1 / np.maximum(off, _FINEST * extent)
            weights /= weights.max()
        else:
            reach = _TUKEY * max(float(np.median(off)), _FINEST * extent)
            weights = np.clip(1 - (off / reach) ** 2, 0, None) ** 2
    return normal, float(normal @ centre), off
