"""How neck, trunk, tail and limbs pull: the joints of each chain, and where its moment is greatest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..skeleton.element import Series
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array
from .assessment import JointLoad
from .column import list_column_joints

Chain = Literal["neck", "trunk", "tail", "limbs"]

CHAINS: tuple[Chain, ...] = ("neck", "trunk", "tail", "limbs")
"""From the head to the tail, then the limbs together."""

_CHAIN_OF: dict[Series, Chain] = {
    "skull": "neck",
    "cervical": "neck",
    "dorsal": "trunk",
    "sacral": "trunk",
    "caudal": "tail",
    "girdle": "limbs",
    "limb": "limbs",
}
"""By the series of a joint's child; ribs and whatever else hangs on a chain are part of none."""


@dataclass(frozen=True)
class ChainMoment:
    """The greatest moment at a joint of one chain.

    moment_Nm : its magnitude, bending and torsion together; None where no load of the chain is known
    child, parent : of the joint where it is; empty where not known
    unknown : how many loads of the chain are not known
    """

    chain: Chain
    moment_Nm: float | None
    child: str
    parent: str
    unknown: int


def measure_moments(joints: Sequence[JointLoad]) -> Array:
    """(n,) magnitude of the moment at each joint [N m], bending and torsion together; nan where it is not known."""
    unknown = np.full(3, np.nan)
    moments = np.array([unknown if load.moment_Nm is None else load.moment_Nm for load in joints], float)
    magnitudes: Array = np.linalg.norm(moments.reshape(-1, 3), axis=1)
    return magnitudes


def find_greatest_moments(skeleton: Skeleton, joints: Sequence[JointLoad]) -> tuple[ChainMoment, ...]:
    """The greatest moment of every chain that the skeleton has. joints : of all joints, in the skeleton's order."""
    chains = [_CHAIN_OF.get(element.series) for element in skeleton.elements[1:]]
    magnitudes = measure_moments(joints)
    found = []
    for chain in CHAINS:
        rows = [i for i, own in enumerate(chains) if own == chain]
        if not rows:
            continue
        own = magnitudes[rows]
        unknown = int(np.isnan(own).sum())
        if unknown == len(rows):
            found.append(ChainMoment(chain, None, "", "", unknown))
            continue
        load = joints[rows[int(np.nanargmax(own))]]
        found.append(ChainMoment(chain, float(np.nanmax(own)), load.child, load.parent, unknown))
    return tuple(found)


def list_links(skeleton: Skeleton) -> tuple[tuple[int, int], ...]:
    """Pairs of joints, as indices into the skeleton's, that follow each other along the column or along a limb.

    Between the two lies one element: along it the moment goes from the one joint's to the other's. The root, from which
    several chains begin, and elements that nothing hangs on have no pair.
    """
    at = {joint.child: i for i, joint in enumerate(skeleton.joints)}
    series = {element.name: element.series for element in skeleton.elements}
    column = list_column_joints(skeleton)
    along = {*column.forward, *column.backward}
    links = []
    for i, joint in enumerate(skeleton.joints):
        if joint.parent not in at:
            continue
        limb = all(_CHAIN_OF.get(series[name]) == "limbs" for name in (joint.parent, joint.child))
        if limb or {joint.parent, joint.child} <= along:
            links.append((at[joint.parent], i))
    return tuple(links)
