"""What is under every foot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..site.actions import Footing
from ..spatial.transforms import Array


@dataclass(frozen=True, eq=False)
class Supports:
    """Of every foot (f,).

    height_m : of the ground under it above the site's
    stiffness : of the foot and what is under it; only the ratios count
    friction : coefficient; NaN: not known
    anchored : whether it can be pulled at
    anchor_N : characteristic tension of its anchors; NaN: not known, or none
    """

    height_m: Array
    stiffness: Array
    friction: Array
    anchored: np.ndarray
    anchor_N: Array


def share_stiffness(supports: Supports, foot: np.ndarray) -> Array:
    """(m,) of every contact, by its foot (m,): the contacts of a foot share its stiffness."""
    counts = np.bincount(foot, minlength=len(supports.stiffness))
    shares: Array = (supports.stiffness / np.maximum(counts, 1))[foot]
    return shares


def list_supports(feet: Sequence[str], footings: Sequence[Footing] = (), friction: float | None = None) -> Supports:
    """What is under feet of these names: of those without a footing level ground, no anchors, and the site's friction.

    A foot whose stiffness nobody named is as stiff as the mean of those that were.
    """
    named = {footing.foot: footing for footing in footings}
    own = [named.get(foot, Footing(foot)) for foot in feet]
    given = [footing.stiffness_N_m for footing in own if footing.stiffness_N_m is not None]
    usual = sum(given) / len(given) if given else 1.0
    return Supports(
        height_m=np.array([footing.height_m for footing in own], float),
        stiffness=np.array([usual if footing.stiffness_N_m is None else footing.stiffness_N_m for footing in own]),
        friction=_list_known([friction if footing.friction is None else footing.friction for footing in own]),
        anchored=np.array([footing.anchored for footing in own], bool),
        anchor_N=_list_known([footing.anchor_N if footing.anchored else None for footing in own]),
    )


def _list_known(values: Sequence[float | None]) -> Array:
    return np.array([np.nan if value is None else value for value in values], float)
