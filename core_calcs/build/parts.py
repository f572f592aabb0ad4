"""What weighs besides the castings: discs in joints, steelwork inside the elements. Each piece goes with an element."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from ..skeleton.joint import Joint
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array
from .build import Build, Disc, Steelwork
from .weights import Weights

PartKind = Literal["disc", "steelwork"]

AREA_UNCERTAINTY_SHARE = 0.1
"""Half-width of a disc's area, which is that of the facets (common practice, no source)."""
THICKNESS_UNCERTAINTY_SHARE = 0.2
"""Of a disc's thickness, where no uncertainty is given."""


@dataclass(frozen=True, eq=False)
class Part:
    """A disc, or what of a steelwork runs in one element; world of the neutral articulation.

    name : of the disc's joint, or of the steelwork
    body : index of the element that carries it
    uncertainty_kg : half-width, every source at its worst together
    centre_m : (3,) centre of mass
    inertia_kg_m2 : (3, 3) about the centre
    common_kg : by source, what it does at its half-width: density of a material, section of a steelwork
    scale_kg : the same of the scans' scale
    own_kg : of the part alone
    weighed : mass_kg is what it was found to weigh
    """

    name: str
    kind: PartKind
    body: int
    mass_kg: float
    uncertainty_kg: float
    centre_m: Array
    inertia_kg_m2: Array
    common_kg: Mapping[object, float]
    scale_kg: float
    own_kg: float
    weighed: bool


@dataclass(frozen=True, eq=False)
class Bodies:
    """Each element and all it carries, in the skeleton's order; world of the neutral articulation.

    mass_kg, uncertainty_kg : (n,)
    centre_m : (n, 3)
    inertia_kg_m2 : (n, 3, 3) about the centres
    """

    mass_kg: Array
    uncertainty_kg: Array
    centre_m: Array
    inertia_kg_m2: Array


def list_parts(skeleton: Skeleton, build: Build) -> tuple[Part, ...]:
    """All discs and pieces of steelwork.

    Raises
    ------
    SkeletonError : a joint or element that they name is not there, or a steelwork has no length
    """
    discs = [_make_disc(skeleton, disc, build.scale_uncertainty_share) for disc in build.discs]
    steel = [piece for work in build.steelwork for piece in _lay_steel(skeleton, work, build.scale_uncertainty_share)]
    return (*discs, *steel)


def join_bodies(weights: Weights, parts: tuple[Part, ...]) -> Bodies:
    """Elements and what they carry as one body each."""
    mass, uncertainty = weights.mass_kg.copy(), weights.uncertainty_kg.copy()
    moment = mass[:, None] * weights.centre_m
    for part in parts:
        mass[part.body] += part.mass_kg
        uncertainty[part.body] += part.uncertainty_kg
        moment[part.body] += part.mass_kg * part.centre_m
    centre = np.where(mass[:, None] > 0, moment / np.where(mass > 0, mass, 1.0)[:, None], weights.centre_m)
    if not parts:
        centre = weights.centre_m
    inertia = weights.inertia_kg_m2 + _move_inertia(weights.mass_kg, weights.centre_m - centre)
    for part in parts:
        arm = part.centre_m - centre[part.body]
        inertia[part.body] += part.inertia_kg_m2 + _move_inertia(np.array([part.mass_kg]), arm[None])[0]
    return Bodies(mass, uncertainty, centre, inertia)


def _move_inertia(mass: Array, arm: Array) -> Array:
    """What inertias (n, 3, 3) gain when they are taken about a point away from the centres by arm (n, 3)."""
    square = (arm * arm).sum(axis=1)[:, None, None] * np.eye(3) - arm[:, :, None] * arm[:, None, :]
    moved: Array = mass[:, None, None] * square
    return moved


def find_disc_place(joint: Joint) -> tuple[Array, Array]:
    """Centre (3,) and direction (3,) of the gap of a joint: by its facets between centra, else by its frame."""
    facets = joint.end_plates
    if not facets:
        return joint.X_WJ[:3, 3], joint.X_WJ[:3, 1]
    middles = [facet.centroid_m + facet.normal * facet.gap_m / 2 for facet in facets]
    towards = sum(facet.normal * np.sign(facet.normal @ facets[0].normal) for facet in facets)
    return np.mean(middles, axis=0), np.asarray(towards / np.linalg.norm(towards))


def measure_disc(joint: Joint, disc: Disc) -> tuple[float, float]:
    """Thickness of a disc and its half-width [m]: as given, else as the gap between the end plates is at neutral.

    Raises
    ------
    SkeletonError : it goes by the gap, and there is none
    """
    thickness, gap = disc.thickness_m, joint.gap_m
    if thickness is None and gap is None:
        what = "no facets between centra are known there, so that a disc has no gap to go by"
        raise SkeletonError(f"joint of {joint.child}", what, "give the disc's thickness, or take it out")
    if thickness is None and gap is not None and gap <= 0:
        what = "its facets touch or overlap: there is no gap for a disc"
        raise SkeletonError(f"joint of {joint.child}", what, "give the thickness that is to be there")
    thickness = gap or 0.0 if thickness is None else thickness
    uncertainty = disc.thickness_uncertainty_m
    return thickness, THICKNESS_UNCERTAINTY_SHARE * thickness if uncertainty is None else uncertainty


def _make_disc(skeleton: Skeleton, disc: Disc, scale_uncertainty_share: float) -> Part:
    """A flat cylinder in the gap of a joint; a larger scan has larger facets and the same thickness."""
    joint = skeleton.joint_of(disc.child)
    (centre, axis), (thickness, thickness_uncertainty) = find_disc_place(joint), measure_disc(joint, disc)
    calculated = disc.material.density_kg_m3 * thickness * disc.area_m2
    mass = calculated if disc.weighed_kg is None else disc.weighed_kg
    square = disc.area_m2 / np.pi
    along = np.outer(axis, axis)
    inertia = mass * (square / 2 * along + (square / 4 + thickness**2 / 12) * (np.eye(3) - along))
    body = skeleton.index(disc.child)
    if disc.weighed_kg is not None:
        uncertainty = disc.weighed_uncertainty_kg
        return Part(disc.child, "disc", body, mass, uncertainty, centre, inertia, {}, 0.0, uncertainty, True)
    thicker = disc.material.density_kg_m3 * disc.area_m2 * thickness_uncertainty
    density = mass * disc.material.density_uncertainty_kg_m3 / disc.material.density_kg_m3
    scale, own = 2 * scale_uncertainty_share * mass, thicker + AREA_UNCERTAINTY_SHARE * mass
    uncertainty = density + scale + own
    return Part(
        disc.child, "disc", body, mass, uncertainty, centre, inertia, {disc.material: density}, scale, own, False
    )


def find_chain(skeleton: Skeleton, start: str, end: str) -> list[int]:
    """The elements from one to another along the joints, both among them."""
    parents = skeleton.parents
    ways = []
    for name in (start, end):
        way = [skeleton.index(name)]
        while parents[way[-1]] >= 0:
            way.append(int(parents[way[-1]]))
        ways.append(way)
    down = set(ways[1])
    up = next(i for i, element in enumerate(ways[0]) if element in down)
    return ways[0][: up + 1] + ways[1][: ways[1].index(ways[0][up])][::-1]


def list_points(skeleton: Skeleton, chain: list[int]) -> Array:
    """(k + 1, 3) where the pieces of a steelwork through k elements begin and end: centres of volume and joints."""
    elements, parents = skeleton.elements, skeleton.parents
    ends = [elements[i].X_WE[:3, :3] @ elements[i].solid.centre_m + elements[i].X_WE[:3, 3] for i in chain]
    joints = []
    for a, b in pairwise(chain):
        child = elements[b if parents[b] == a else a].name
        joints.append(skeleton.joint_of(child).X_WJ[:3, 3])
    return np.array([ends[0], *joints, ends[-1]])


def _lay_steel(skeleton: Skeleton, work: Steelwork, scale_uncertainty_share: float) -> list[Part]:
    """One straight rod in every element of the chain."""
    chain = find_chain(skeleton, work.start, work.end)
    points = list_points(skeleton, chain)
    ways = np.diff(points, axis=0)
    lengths = np.linalg.norm(ways, axis=1)
    measured = float(lengths.sum())
    if measured <= 0 and work.length_m is None:
        what = f"it begins and ends in {work.start}, so that no joint tells its length"
        raise SkeletonError(f"steelwork {work.name}", what, "give its length, or another element for its end")
    shares = lengths / measured if measured > 0 else np.full(len(chain), 1 / len(chain))
    long = measured if work.length_m is None else work.length_m
    parts = []
    for body, share, way, middle in zip(chain, shares, ways, (points[1:] + points[:-1]) / 2, strict=True):
        mass = work.kg_per_m * long * float(share)
        inertia = mass / 12 * (way @ way * np.eye(3) - np.outer(way, way))
        section = mass * work.kg_per_m_uncertainty / work.kg_per_m
        scale = scale_uncertainty_share * mass if work.length_m is None else 0.0
        common: dict[object, float] = {("steelwork", work.name): section}
        parts.append(
            Part(work.name, "steelwork", body, mass, section + scale, middle, inertia, common, scale, 0.0, False)
        )
    return parts
