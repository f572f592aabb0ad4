"""Changing what weighs besides the castings: discs in joints, steelwork inside the elements."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from ..build.build import Build, Disc, Material, Steelwork
from ..build.parts import list_parts, measure_disc
from ..skeleton.joint import Joint
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError


@dataclass(frozen=True)
class DiscOrder:
    """What discs are asked for.

    thickness_m, area_m2 : None: as the gap, and the facets, of each joint are
    thickness_uncertainty_m : None: a fifth of the thickness
    """

    material: Material
    thickness_m: float | None = None
    thickness_uncertainty_m: float | None = None
    area_m2: float | None = None
    weighed_kg: float | None = None
    weighed_uncertainty_kg: float = 0.0


def make_disc(joint: Joint, order: DiscOrder) -> Disc:
    """The disc of one joint; its facets between centra give what is not given, the gap for as long as it follows that.

    Raises
    ------
    SkeletonError : they give no thickness or area
    """
    plates, area = joint.end_plates, order.area_m2
    if (order.thickness_m is None or area is None) and not plates:
        what = "no facets between centra are known there, so that a disc has neither gap nor area to go by"
        raise SkeletonError(f"joint of {joint.child}", what, "give thickness and area")
    if order.thickness_m is None and joint.placing is not None:
        what = "its gap was measured before the element was placed by hand"
        raise SkeletonError(f"joint of {joint.child}", what, "give the thickness")
    if area is None:
        area = float(np.mean([plate.area_m2 for plate in plates]))
    weighed = (order.weighed_kg, order.weighed_uncertainty_kg)
    disc = Disc(joint.child, order.material, order.thickness_m, order.thickness_uncertainty_m, area, *weighed)
    measure_disc(joint, disc)
    return disc


def set_discs(build: Build, skeleton: Skeleton, children: Iterable[str], order: DiscOrder) -> Build:
    """The build with such a disc in the joint of each child, in the place of one that was there."""
    made = {child: make_disc(skeleton.joint_of(child), order) for child in children}
    kept = {disc.child: disc for disc in build.discs}
    return replace(build, discs=tuple((kept | made).values()))


def remove_discs(build: Build, children: Iterable[str]) -> Build:
    """The build without the discs of these joints; SkeletonError where one of them has none."""
    gone = set(children)
    for child in sorted(gone - {disc.child for disc in build.discs}):
        raise SkeletonError(f"joint of {child}", "there is no disc in it", "name a joint that has one")
    return replace(build, discs=tuple(disc for disc in build.discs if disc.child not in gone))


def list_gaps(skeleton: Skeleton) -> tuple[str, ...]:
    """Children of the joints whose facets between centra leave a gap: where discs go.

    Not of those placed by hand: their gap is that of the scans.
    """
    return tuple(joint.child for joint in skeleton.joints if (joint.gap_m or 0.0) > 0 and joint.placing is None)


def lay_steelwork(build: Build, skeleton: Skeleton, work: Steelwork) -> Build:
    """The build with a steelwork, in the place of one of the same name.

    Raises
    ------
    SkeletonError : its elements are not there, or it has no length
    """
    if not work.name.strip():
        raise SkeletonError("steelwork", "its name is empty", "give it a name")
    for end in (work.start, work.end):
        skeleton.index(end)
    kept = {own.name: own for own in build.steelwork} | {work.name: work}
    changed = replace(build, steelwork=tuple(kept.values()))
    list_parts(skeleton, changed)
    return changed


def remove_steelwork(build: Build, name: str) -> Build:
    """The build without a steelwork; SkeletonError where there is none of that name."""
    if name not in {own.name for own in build.steelwork}:
        known = ", ".join(own.name for own in build.steelwork) or "none"
        raise SkeletonError(f"steelwork {name}", "there is none of that name", f"there is: {known}")
    return replace(build, steelwork=tuple(own for own in build.steelwork if own.name != name))
