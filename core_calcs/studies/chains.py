"""How hard neck, trunk, tail and limbs pull: the greatest moment of each chain, and which joints follow each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..skeleton.joint import Joint
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array
from .assessment import JointLoad
from .beams import BeamKind, list_beam_joints
from .column import list_column_joints
from .later_rows import LaterLoads

CHAINS: tuple[BeamKind, ...] = ("neck", "trunk", "tail", "limb")
"""From the head to the tail, then all limbs together."""

LIMBS = ("girdle", "limb")
"""Series of what limbs are made of."""


@dataclass(frozen=True)
class ChainMoment:
    """The greatest moment at a joint of one chain.

    moment_Nm : its magnitude, bending and torsion together; None where no load of the chain is known
    child, parent : of the joint where it is; empty where not known
    unknown : how many loads of the chain are not known
    """

    chain: BeamKind
    moment_Nm: float | None
    child: str
    parent: str
    unknown: int


def measure_moments(joints: Sequence[JointLoad]) -> Array:
    """(n,) magnitude of the moment at each joint [N m], bending and torsion together; nan where it is not known."""
    if isinstance(joints, LaterLoads):
        moments = joints.moments_Nm
    else:
        unknown = np.full(3, np.nan)
        moments = np.array([unknown if load.moment_Nm is None else load.moment_Nm for load in joints], float)
    magnitudes: Array = np.linalg.norm(moments.reshape(-1, 3), axis=1)
    return magnitudes


def name_chains(skeleton: Skeleton) -> dict[str, BeamKind]:
    """Which chain each joint of a beam belongs to, by its child: see `studies.beams`."""
    return {child: kind for kind, joints in list_beam_joints(skeleton) for child in joints}


def find_greatest_moments(chains: Mapping[str, BeamKind], joints: Sequence[JointLoad]) -> tuple[ChainMoment, ...]:
    """The greatest moment of every chain. chains : of the skeleton's joints, from `name_chains`"""
    magnitudes = measure_moments(joints)
    of: Sequence[JointLoad | Joint] = joints.of if isinstance(joints, LaterLoads) else joints
    rows: dict[BeamKind, list[int]] = {chain: [] for chain in CHAINS}
    for i, joint in enumerate(of):
        if (chain := chains.get(joint.child)) is not None:
            rows[chain].append(i)
    return tuple(_find_greatest(chain, of, magnitudes, own) for chain, own in rows.items() if own)


def _find_greatest(
    chain: BeamKind, joints: Sequence[JointLoad | Joint], magnitudes: Array, rows: list[int]
) -> ChainMoment:
    own = magnitudes[rows]
    missing = np.isnan(own)
    unknown = int(missing.sum())
    if unknown == len(rows):
        return ChainMoment(chain, None, "", "", unknown)
    greatest = int(np.where(missing, -1.0, own).argmax())
    load = joints[rows[greatest]]
    return ChainMoment(chain, float(own[greatest]), load.child, load.parent, unknown)


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
        limb = all(series[name] in LIMBS for name in (joint.parent, joint.child))
        if limb or {joint.parent, joint.child} <= along:
            links.append((at[joint.parent], i))
    return tuple(links)
