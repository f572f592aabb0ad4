"""How each joint of a column is to be put together: by which facets, at which gap; and how it then was."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ..articulation.chain import Link, PlacedChain, Share
from ..articulation.disc_spacing import require_thickness
from ..articulation.mating import NOMINAL_GAP_S, Mated, mate
from ..articulation.rim_heights import Gap, RimHeights
from ..skeleton.joint import Joint
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.transforms import apply, invert
from .disc_thickness import find_size
from .loose_facets import KnownFacets, LooseColumn, is_loose
from .told_gaps import ToldGap, measure_gap

_AS_BEFORE = "as before"
_LEANING_RAD, _ASIDE_S, _OFF_GAP_S = math.radians(20), 0.25, 0.05
"""Facets that lean to each other, lie aside of each other or miss their gap by more were mated to something else."""
_BENT_RAD, _PARTED_S = math.radians(5), 0.1
"""A joint that takes more than that to close a chain is told."""


@dataclass(frozen=True)
class AssemblyOrder:
    """What is asked for.

    every : gap between the end plates of every joint; None: as an earlier mounting had it, where that is known
    own : by child, of joints that differ
    pinned : elements of the column that stay where they stand, besides the one that hangs on nothing of the column
    """

    every: ToldGap | None = None
    own: Mapping[str, ToldGap] = field(default_factory=dict)
    pinned: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class AssembledJoint:
    """How a joint was put together.

    gap : wanted between the end plates; None where it has none, or it was not mated
    gap_from : who says so, in words
    facets_from : where its facets come from, in words; empty: it was not mated, its child goes along as it stood
    leaning_rad : greatest angle between two of its facets
    share : what it took to close the chain between two elements that stay
    remarks : in words
    """

    parent: str
    child: str
    gap: Gap
    gap_from: str
    facets_from: str
    leaning_rad: float
    share: Share
    remarks: tuple[str, ...]

    @property
    def gap_m(self) -> float | None:
        """The gap that was wanted as one figure, of a wedge the mean of its heights."""
        return self.gap.mean_m if isinstance(self.gap, RimHeights) else self.gap


@dataclass(frozen=True, eq=False)
class JointPlan:
    """A joint of the column before it is placed.

    known : None where its child goes along as it stands
    gaps_m : wanted of each pair of facets; None: not known
    """

    joint: Joint
    known: KnownFacets | None
    gaps_m: tuple[Gap, ...] = ()
    gap_from: str = ""


def require_order(skeleton: Skeleton, joints: Sequence[Joint], order: AssemblyOrder) -> None:
    """SkeletonError where there is no column, or what is asked for is about something else."""
    if not joints:
        raise SkeletonError(skeleton.name, "it has no column", "say in the table which elements are of one")
    children = {joint.child for joint in joints}
    for name in order.pinned:
        skeleton.index(name)
        if name not in children | {joint.parent for joint in joints}:
            raise SkeletonError(name, "it is pinned, but is not of the column", "pin elements of the column alone")
    for name in order.own:
        skeleton.index(name)
        if name not in children:
            what = "a gap is given, but it hangs on no element of the column"
            raise SkeletonError(name, what, "name the child of a joint")


def plan_joint(skeleton: Skeleton, joint: Joint, column: LooseColumn, order: AssemblyOrder) -> JointPlan:
    """How a joint is to be put together.

    The thickness of a disc that was set wins over what is asked for; gaps that an earlier mounting had between other
    facets count where its end plates keep theirs.

    Raises
    ------
    SkeletonError : of a loose joint no facets are known; nobody says how wide its gap is; no disc is so thick
    """
    known = column.known.get(joint.child)
    if known is None:
        if is_loose(joint) and joint.child not in order.pinned:
            remedy = f"mark its facets on {joint.parent} and {joint.child}, give a document that knows them, or pin it"
            raise SkeletonError(f"joint of {joint.child}", "none of its facets are known", remedy)
        return JointPlan(joint, None)
    gap, origin = _choose_gap(skeleton, joint, known, order)
    gaps = tuple(
        gap if pair[0].kind == "centrum" else before if origin == _AS_BEFORE else None
        for pair, before in zip(known.pairs, known.gaps_m, strict=True)
    )
    return JointPlan(joint, known, gaps, origin if known.has_end_plates else "")


def _choose_gap(skeleton: Skeleton, joint: Joint, known: KnownFacets, order: AssemblyOrder) -> tuple[Gap, str]:
    size = find_size(skeleton, joint)
    if joint.disc is not None:
        require_thickness(joint.child, joint.disc.thickness_m, size)
        return joint.disc.thickness_m, "disc set"
    if joint.child in order.own:
        return measure_gap(joint.child, order.own[joint.child], size), "given for it"
    if order.every is not None:
        return measure_gap(joint.child, order.every, size), "given for all"
    if known.gap_m is not None or not known.has_end_plates:
        return known.gap_m, _AS_BEFORE
    what = "no gap between its end plates is given"
    remedy = f"give a gap, {NOMINAL_GAP_S:g} of its size s where nothing is known"
    raise SkeletonError(f"joint of {joint.child}", what, remedy)


def mate_planned(plan: JointPlan, column: LooseColumn) -> Mated | None:
    """The child's place on its parent, (4, 4) from frame to frame; None where it goes along as it stands."""
    if plan.known is None:
        return None
    planes = [column.midplanes.get(name) for name in (plan.joint.parent, plan.joint.child)]
    both = (planes[0], planes[1]) if planes[0] is not None and planes[1] is not None else None
    return mate(plan.known.pairs, plan.gaps_m, both)


def link_planned(skeleton: Skeleton, plan: JointPlan, mated: Mated | None) -> Link:
    """The joint as a link of the chain."""
    joint, size = plan.joint, find_size(skeleton, plan.joint)
    if mated is None or plan.known is None:
        X_PW = invert(skeleton.elements[skeleton.index(joint.parent)].X_WE)
        X_PE = X_PW @ skeleton.elements[skeleton.index(joint.child)].X_WE
        return Link(joint.parent, joint.child, X_PE, apply(X_PW, joint.X_WJ[None, :3, 3])[0], size, stiff=True)
    on_parent, on_child = plan.known.pairs[0]
    middle = (on_parent.points.mean(axis=0) + apply(mated.D, on_child.points).mean(axis=0)) / 2
    return Link(joint.parent, joint.child, mated.D, middle, size)


def tell_joint(skeleton: Skeleton, plan: JointPlan, mated: Mated | None, chain: PlacedChain) -> AssembledJoint:
    """How a joint was put together, and what speaks against it."""
    joint, size = plan.joint, find_size(skeleton, plan.joint)
    share, remarks = chain.shares.get(joint.child, Share()), []
    if share.turn_rad > _BENT_RAD or share.shift_m > _PARTED_S * size:
        took = f"{1000 * share.shift_m:.1f} mm and {math.degrees(share.turn_rad):.1f}°"
        remarks.append(f"to close the chain it took {took}")
    if mated is None or plan.known is None:
        return AssembledJoint(joint.parent, joint.child, None, "", "", 0.0, share, tuple(remarks))
    if len(plan.known.pairs) == 1:
        remarks.append(
            "one pair of facets is known: how it is turned about the column rests on middle planes and likeness"
        )
    for k, (stand, _) in enumerate(plan.known.pairs):
        remarks += _check_pair(stand.kind, plan.gaps_m[k], mated, k, size)
    wanted = next((plan.gaps_m[k] for k, pair in enumerate(plan.known.pairs) if pair[0].kind == "centrum"), None)
    told = (wanted, plan.gap_from, plan.known.origin, max(mated.leaning_rad))
    return AssembledJoint(joint.parent, joint.child, *told, share, tuple(remarks))


def describe_gap(gap: Gap) -> str:
    """A gap in millimetres, in words; of a wedge both heights."""
    if isinstance(gap, RimHeights):
        return f"{1000 * gap.ventral_m:.1f} mm ventral and {1000 * gap.dorsal_m:.1f} mm dorsal"
    return "" if gap is None else f"{1000 * gap:.1f} mm"


def _check_pair(kind: str, wanted: Gap, mated: Mated, k: int, size: float) -> list[str]:
    """What speaks against a pair of facets having met, in words."""
    found = []
    if mated.leaning_rad[k] > _LEANING_RAD:
        found.append(f"{kind}: the two lean to each other by {math.degrees(mated.leaning_rad[k]):.0f}°")
    if mated.aside_m[k] > _ASIDE_S * size:
        found.append(f"{kind}: the two lie {1000 * mated.aside_m[k]:.1f} mm aside of each other")
    gap, heights = mated.gaps_m[k], mated.heights_m[k]
    if isinstance(wanted, RimHeights) and heights is not None:
        off = max(abs(heights.ventral_m - wanted.ventral_m), abs(heights.dorsal_m - wanted.dorsal_m))
        found += _check_gap(kind, off, size, heights, wanted)
    elif isinstance(wanted, float):
        found += _check_gap(kind, abs(gap - wanted), size, gap, wanted)
    elif gap < -_OFF_GAP_S * size:
        found.append(f"{kind}: the two run {-1000 * gap:.1f} mm into each other")
    return found


def _check_gap(kind: str, off_m: float, size: float, had: Gap, wanted: Gap) -> list[str]:
    if off_m <= _OFF_GAP_S * size:
        return []
    return [f"{kind}: the gap is {describe_gap(had)}, wanted were {describe_gap(wanted)}"]
