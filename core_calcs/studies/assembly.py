"""A column put together from elements that stand anywhere, each where its scanner had it.

Outwards from the root, or between elements that are pinned where they stand, every element is mated to the one before
by the facets that are known, at the gap that is wanted. What hangs on an element goes along. Then the joints of the
column are looked for where the elements stand now.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ..articulation.chain import Open, place_chain
from ..document.document import SkeletonDocument
from ..document.record import Record
from ..skeleton.discs import take_discs_out
from ..skeleton.joint import Joint
from ..skeleton.tree import Skeleton
from ..spatial.progress import Progress, ignore_progress, part_of
from ..spatial.transforms import Array, invert
from .assembly_plans import (
    AssembledJoint,
    AssemblyOrder,
    JointPlan,
    describe_gap,
    link_planned,
    mate_planned,
    plan_joint,
    require_order,
    tell_joint,
)
from .corrections import keep_mounted
from .joint_cache import JointCache
from .joint_workers import begin_searches
from .loose_facets import find_known, is_loose, is_mated, list_facet_joints
from .placed_columns import carry_pose, find_upright, move_column
from .searched_joints import complete_joint, default_settings, exchange_joints, plan_search

_READING, _MATING = 0.2, 0.3
"""Shares of the work that end with reading the elements and with mating them; the rest is the search for the joints."""


@dataclass(frozen=True, eq=False)
class Assembly:
    """A document put together.

    joints : of the column, in the skeleton's order
    opened : how far every stretch between two elements that stay was open
    upright : the whole was turned, so that x looks to the head and z to the back
    """

    document: SkeletonDocument
    joints: tuple[AssembledJoint, ...]
    opened: tuple[Open, ...]
    upright: bool


def assemble_document(
    document: SkeletonDocument,
    mesh_folder: Path,
    order: AssemblyOrder,
    told: Record,
    earlier: SkeletonDocument | None = None,
    progress: Progress = ignore_progress,
    cache: JointCache | None = None,
) -> Assembly:
    """Put the column of a document together.

    The thickness of a disc that was set in the document wins over every gap asked for. Saved angles stay where a joint
    still turns; where elements stood before is kept as a pose, unless they stood anywhere.

    Parameters
    ----------
    told : why, by whom, when; the rest of the record is filled in here
    earlier : a document of the same files in which the facets are known; None: the document's own marks and facets
    cache : joints found before, which are taken from there; those found now are added

    Raises
    ------
    SkeletonError : no facets or no gap are known of a joint, a gap that no disc has, a pin that is not of the column
    DocumentError, MeshFileError : files are missing, or others than the documents were made from
    """
    scanned = replace(document, skeleton=take_discs_out(document.skeleton))
    skeleton = scanned.skeleton
    joints = list_facet_joints(skeleton)
    require_order(skeleton, joints, order)
    before = None if earlier is None else take_discs_out(earlier.skeleton)
    of_facets = [joint for joint in joints if is_mated(joint)]
    column = find_known(skeleton, before, of_facets, mesh_folder, part_of(progress, 0.0, _READING))
    plans = [plan_joint(skeleton, joint, column, order) for joint in joints]
    progress("mating", _READING)
    meetings = [mate_planned(plan, column) for plan in plans]
    # What is pinned and knows no facets stands without a link.
    links = [
        link_planned(skeleton, plan, mated)
        for plan, mated in zip(plans, meetings, strict=True)
        if mated is not None or plan.joint.child not in order.pinned
    ]
    chain = place_chain(links, _list_standing(skeleton, joints, order))
    U = None
    if not order.pinned and any(map(is_loose, joints)):
        U = find_upright(skeleton, chain, {joint.child: joint.parent for joint in joints}, column.midplanes)
    moved = replace(scanned, skeleton=move_column(skeleton, chain, np.eye(4) if U is None else U))
    found = _search(moved, mesh_folder, of_facets, part_of(progress, _MATING, 1.0), cache)
    told_joints = tuple(tell_joint(skeleton, plan, mated, chain) for plan, mated in zip(plans, meetings, strict=True))
    poses = found.poses
    if not any(map(is_loose, joints)) and not any(pose.mounted for pose in poses):
        poses = (*poses, keep_mounted(document))
    poses = tuple(carry_pose(pose, np.eye(4) if U is None else U) for pose in poses)
    records = (*document.records, _make_record(skeleton, told, plans, told_joints))
    return Assembly(replace(found, poses=poses, records=records), told_joints, chain.opened, U is not None)


def _list_standing(skeleton: Skeleton, joints: Sequence[Joint], order: AssemblyOrder) -> dict[str, Array]:
    """Where the elements stand that stay: the ones that hang on nothing of the column, and those pinned."""
    children = {joint.child for joint in joints}
    names = {joint.parent for joint in joints} - children | set(order.pinned)
    return {name: skeleton.elements[skeleton.index(name)].X_WE for name in names}


def _search(
    moved: SkeletonDocument, mesh_folder: Path, joints: Sequence[Joint], progress: Progress, cache: JointCache | None
) -> SkeletonDocument:
    """The joints of the column looked for where the elements stand now; those set by hand stay."""
    skeleton = moved.skeleton
    own = [skeleton.joint_of(joint.child) for joint in joints if joint.kind != "by hand"]
    searches = [plan_search(skeleton, mesh_folder, joint, default_settings(skeleton, joint)) for joint in own]
    with begin_searches(searches, mesh_folder, cache) as finish:
        found = finish(progress)
    return exchange_joints(moved, [complete_joint(skeleton, joint, found[joint.child]) for joint in own])


def _make_record(
    skeleton: Skeleton, told: Record, plans: Sequence[JointPlan], joints: Sequence[AssembledJoint]
) -> Record:
    """What was put together, by which facets and gaps, and where the elements stood against their parents."""
    mated = [joint for joint in joints if joint.facets_from]
    origins = Counter(joint.facets_from for joint in mated)
    by = ", ".join(f"{number} {origin}" for origin, number in origins.items())
    gaps = [f"{joint.child} {describe_gap(joint.gap)} {joint.gap_from}" for joint in mated if joint.gap is not None]
    remarks = [f"{joint.child}: {remark}" for joint in joints for remark in joint.remarks]
    return replace(
        told,
        kind="correction",
        action="assembled",
        elements=tuple(plan.joint.child for plan in plans),
        what=f"{len(mated)} joints of the column put together by their facets ({by})",
        evidence="; ".join([f"gaps: {', '.join(gaps)}", *remarks]),
        before=_list_before(skeleton, plans),
    )


def _list_before(skeleton: Skeleton, plans: Sequence[JointPlan]) -> Mapping[str, Array]:
    """(4, 4) of every child of the column, from its frame to its parent's."""
    X_WE = {element.name: element.X_WE for element in skeleton.elements}
    return {plan.joint.child: invert(X_WE[plan.joint.parent]) @ X_WE[plan.joint.child] for plan in plans}
