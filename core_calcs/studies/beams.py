"""Neck, trunk, tail and limbs read as beams: shear, bending, torsion and axial force along each, from an assessment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from ..build.parts import find_chain
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array
from ..statics.beams import find_beam_axes, measure_stations, resolve_wrenches
from .assessment import Assessment, JointLoad
from .column import list_column_joints

BeamKind = Literal["neck", "trunk", "tail", "limb"]


@dataclass(frozen=True, eq=False)
class Beam:
    """One chain of elements as a beam, in a pose: what passes through each of its joints.

    Values stand at the joints alone. Between two joints an element's own weight acts, and that of what else it carries,
    spread in a way that its mass and centre do not tell: a line drawn between two joints is an interpolation.

    The chain runs away from the trunk: the neck from its base to the head, the tail from its base to the tip, a limb
    from the girdle to the last bone; the trunk from the tail to the neck. At a joint the part **beyond** acts on the
    part **before**. Local axes (statics.beams): along the tangent; sideways, horizontal and to the left of who looks
    along the chain; normal = along × sideways, upwards until the chain has passed the upright.

    joints : (k) children of the joints, by which they are named
    elements : (k) the element beyond each joint
    station_m : (k,) length along the chain from its first joint, from joint to joint in the pose
    points_m : (k, 3) world
    axes : (k, 3, 3) rows along, sideways, normal; world
    axial_N : (k,) tension > 0
    shear_N : (k, 2) sideways, normal
    torsion_Nm : (k,) about the tangent, right-handed
    bending_Nm : (k, 2) about the sideways axis: > 0 where what is beyond hangs down, with tension on top; about the
        normal: > 0 where what is beyond is pulled to the left. All four are not numbers where they are not known
    senses : (k,) 1 where the joint's child is the one beyond; -1 where the chain runs towards the root
    shared : (k,) whether they rest on how the feet share the load, which equilibrium does not settle
    """

    name: str
    kind: BeamKind
    joints: tuple[str, ...]
    elements: tuple[str, ...]
    station_m: Array
    points_m: Array
    axes: Array
    axial_N: Array
    shear_N: Array
    torsion_Nm: Array
    bending_Nm: Array
    senses: Array
    shared: np.ndarray

    @property
    def resultant_shear_N(self) -> Array:
        """(k,) of both axes."""
        resultant: Array = np.hypot(self.shear_N[:, 0], self.shear_N[:, 1])
        return resultant

    @property
    def resultant_bending_Nm(self) -> Array:
        """(k,) of both axes."""
        resultant: Array = np.hypot(self.bending_Nm[:, 0], self.bending_Nm[:, 1])
        return resultant


@dataclass(frozen=True)
class _Chain:
    """Elements one after the other, and which of the joints between them are the chain's: from `first` to `last`."""

    name: str
    kind: BeamKind
    elements: tuple[str, ...]
    first: int
    last: int


def find_beams(skeleton: Skeleton, found: Assessment) -> tuple[Beam, ...]:
    """Every chain of the skeleton that has a joint: neck, trunk, tail, then the limbs."""
    loads = {load.child: load for load in found.joints}
    centres = {mass.element: mass.centre_m for mass in found.masses}
    return tuple(_make_beam(chain, loads, centres) for chain in _list_chains(skeleton))


def list_beam_joints(skeleton: Skeleton) -> tuple[tuple[BeamKind, tuple[str, ...]], ...]:
    """The kind and the joints, by their children, of every beam that `find_beams` makes, in its order."""
    parents = {joint.child: joint.parent for joint in skeleton.joints}
    found = []
    for chain in _list_chains(skeleton):
        pairs = list(pairwise(chain.elements))[chain.first : chain.last + 1]
        joints = (beyond if parents.get(beyond) == before else before for before, beyond in pairs)
        found.append((chain.kind, tuple(joints)))
    return tuple(found)


def _list_chains(skeleton: Skeleton) -> list[_Chain]:
    return [*_list_column_chains(skeleton), *_list_limb_chains(skeleton)]


def _list_column_chains(skeleton: Skeleton) -> list[_Chain]:
    """The column in up to three parts; of the joint between two parts neck and tail have it, not the trunk."""
    column = list_column_joints(skeleton)
    series = {element.name: element.series for element in skeleton.elements}
    tip = column.backward[-1] if column.backward else skeleton.root.name
    head = column.forward[0] if column.forward else skeleton.root.name
    way = tuple(skeleton.elements[i].name for i in find_chain(skeleton, tip, head))
    pairs = [{series[name] for name in pair} for pair in pairwise(way)]
    tail = max((i + 1 for i, both in enumerate(pairs) if "caudal" in both), default=0)
    fore = (i for i, both in enumerate(pairs) if i >= tail and both & {"cervical", "skull"})
    neck, count = next(fore, len(pairs)), len(pairs)
    chains = []
    if neck < count:
        chains.append(_Chain("neck", "neck", way, neck, count - 1))
    if tail < neck:
        chains.append(_Chain("trunk", "trunk", way, tail, neck - 1))
    if tail:
        chains.append(_Chain("tail", "tail", way[::-1], count - tail, count - 1))
    return chains


def _list_limb_chains(skeleton: Skeleton) -> list[_Chain]:
    """From the girdle, or the first bone, of every limb along the longest way through its bones.

    Limbs that hang on one girdle, as on a pelvis of one piece, have its joint in common.
    """
    series = {element.name: element.series for element in skeleton.elements}
    places = {joint.child: joint.X_WJ[:3, 3] for joint in skeleton.joints}
    ways: dict[str, tuple[tuple[str, ...], float]] = {}
    longest: dict[str, tuple[tuple[str, ...], float]] = {}
    for joint in skeleton.joints:
        if series[joint.child] not in ("limb", "girdle"):
            continue
        if joint.parent in ways:
            way, length = ways[joint.parent]
            step = float(np.linalg.norm(places[joint.child] - places[joint.parent]))
            ways[joint.child] = ((*way, joint.child), length + step)
        else:
            ways[joint.child] = ((joint.parent, joint.child), 0.0)
        way, length = ways[joint.child]
        first = next((name for name in way[1:] if series[name] == "limb"), None)
        if first is not None and (first not in longest or length > longest[first][1]):
            longest[first] = (way, length)
    limbs = [way for way, _ in longest.values()]
    names = [way[1] if len(way) == 2 else f"{way[1]} to {way[-1]}" for way in limbs]
    return [_Chain(name, "limb", way, 0, len(way) - 2) for name, way in zip(names, limbs, strict=True)]


def _make_beam(chain: _Chain, loads: Mapping[str, JointLoad], centres: Mapping[str, Array]) -> Beam:
    pairs = list(pairwise(chain.elements))
    # The child is the one beyond, unless the chain runs towards the root: then what is beyond acts the other way.
    outwards = [beyond in loads and loads[beyond].parent == before for before, beyond in pairs]
    joints = [beyond if out else before for (before, beyond), out in zip(pairs, outwards, strict=True)]
    points = np.array([loads[child].point_m for child in joints])
    own = slice(chain.first, chain.last + 1)
    before = points[chain.first - 1] if chain.first else None
    after = points[chain.last + 1] if chain.last + 1 < len(points) else centres[chain.elements[-1]]
    axes = find_beam_axes(points[own], before, after)
    wrenches = np.array([_read_wrench(loads[child]) for child in joints[own]])
    senses = np.where(outwards[own], 1.0, -1.0)
    wrenches *= senses[:, None]
    force, moment = resolve_wrenches(wrenches, axes)
    return Beam(
        name=chain.name,
        kind=chain.kind,
        joints=tuple(joints[own]),
        elements=tuple(beyond for _, beyond in pairs[own]),
        station_m=measure_stations(points[own]),
        points_m=points[own],
        axes=axes,
        axial_N=force[:, 0],
        shear_N=force[:, 1:],
        torsion_Nm=moment[:, 0],
        bending_Nm=moment[:, 1:],
        senses=senses,
        shared=np.array([loads[child].moment_range_Nm is not None for child in joints[own]]),
    )


def _read_wrench(load: JointLoad) -> Array:
    if load.force_N is None or load.moment_Nm is None:
        return np.full(6, np.nan)
    wrench: Array = np.concatenate([load.force_N, load.moment_Nm])
    return wrench
