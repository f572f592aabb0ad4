"""The report of the ranges: what the joints allow and how the poses use it, on one page to publish."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from ..document.document import SkeletonDocument
from ..skeleton.pose import Pose
from ..studies.ranges import JointRange, RangeTable, add_up_parts
from . import range_lines as lines
from .figure_names import MOST_LABELS, SERIES_NAMES
from .pages import render_page
from .phrases import join_words
from .public_text import write_public_text
from .range_figure import POSES_IN_FIGURE, RangeFigure, draw_ranges
from .range_words import group_fixed, list_key_facts, tell_interventions
from .record_text import list_mounted, list_records
from .report_sentences import describe_discs, describe_facets, describe_surfaces
from .use_figure import draw_uses


def render_range_report(document: SkeletonDocument, poses: Sequence[Pose], table: RangeTable, made: datetime) -> str:
    """The report as HTML.

    Parameters
    ----------
    poses, table : of these poses, in their order
    made : when, in UTC
    """
    skeleton = document.skeleton
    sums = add_up_parts(table)
    pose_lines = lines.list_poses(table, poses)
    title, *paragraphs = write_public_text(document, table).strip().split("\n\n")
    return render_page(
        "ranges.html",
        running=f"{skeleton.name}, ranges of motion, {made:%Y-%m-%d}. Bone and facet limits at the stated settings.",
        skeleton=skeleton,
        made=f"{made:%Y-%m-%d %H:%M} UTC",
        keys=list_key_facts(table, pose_lines),
        settings=lines.list_settings(table),
        by_hand=sum(own.known and own.joint.settings is None for own in table.joints),
        poses=pose_lines,
        column_figures=draw_column(table),
        column_uses=draw_column_uses(table),
        sums=lines.list_sums(sums),
        sum_parts=[SERIES_NAMES.get(own.part, own.part) for own in sums],
        pose_sums=lines.list_pose_sums(table, sums),
        column_still=list_still(table, table.column),
        limb_figures=draw_others(table),
        limb_still=list_still(table, table.others),
        limits=lines.list_limits(table, table.joints),
        uses=lines.list_uses(table),
        sure=lines.list_sure(table.joints),
        unknown=[own.joint for own in table.joints if not own.known],
        ambiguous=[own.joint for own in table.ambiguous],
        fixed=group_fixed(table.fixed),
        mounted=[(pose.name, pose.note, list_mounted(skeleton, pose)) for pose in poses if pose.mounted],
        interventions=tell_interventions(skeleton),
        records=list_records(document.records),
        told=(*describe_facets(skeleton), *describe_discs(skeleton)),
        surfaces=describe_surfaces(skeleton),
        public_title=title,
        public_text=paragraphs,
    )


def draw_column(table: RangeTable) -> tuple[str, ...]:
    """The ranges along the column, with a few poses in each figure; without poses one figure; none without joints."""
    if not table.column:
        return ()
    title = "Ranges of the joints along the column, from the head on the left, and the angles of the poses"
    return tuple(
        draw_ranges(RangeFigure(table.column, (0, 1, 2), batch, True, f"column-{i}", title))
        for i, batch in enumerate(_batch_poses(table, table.column))
    )


def draw_column_uses(table: RangeTable) -> str:
    """How much of their ranges along the column the poses take; empty without joints or poses. None as mounted."""
    kept = [i for i, name in enumerate(table.poses) if name not in table.mounted]
    if not table.column or not kept:
        return ""
    joints = [replace(own, uses=tuple(own.uses[i] for i in kept)) for own in table.column]
    title = "Share of the range that each pose takes, by joint"
    return draw_uses(joints, [table.poses[i] for i in kept], "uses", title)


def draw_others(table: RangeTable) -> tuple[str, ...]:
    """The ranges of the joints off the column: flexion of all, then of those that turn about more axes the others."""
    figures = []
    title = "Ranges of the joints off the column, and the angles of the poses"
    about_more = [own for own in table.others if not (own.axes[1].held and own.axes[2].held)]
    bending = [own for own in table.others if not own.axes[0].held]
    for k, (joints, axes) in enumerate(((bending, (0,)), (about_more, (1, 2)))):
        for j, some in enumerate(_batch_joints(joints)):
            for i, batch in enumerate(_batch_poses(table, some)):
                figures.append(draw_ranges(RangeFigure(some, axes, batch, False, f"others-{k}-{j}-{i}", title)))
    return tuple(figures)


def list_still(table: RangeTable, joints: Sequence[JointRange]) -> str:
    """The poses that leave all of these joints at neutral, as a sentence; empty where each turns one."""
    turning = {i for batch in _batch_poses(table, joints) for i in batch}
    names = [name for i, name in enumerate(table.poses) if i not in turning and name not in table.mounted]
    if not names or not joints:
        return ""
    return f"All of these joints are at neutral in {join_words(names)}."


def _batch_poses(table: RangeTable, joints: Sequence[JointRange]) -> list[dict[int, int]]:
    """The poses of each figure by number, with the number of their look: those that turn one of its joints.

    A pose has one look in all figures. A pose as mounted is in none: where elements stood wrong their angles are no use
    of a range.
    """
    numbers = [i for i, name in enumerate(table.poses) if name not in table.mounted]
    batches = []
    for first in range(0, len(numbers), POSES_IN_FIGURE):
        looks = {pose: look for look, pose in enumerate(numbers[first : first + POSES_IN_FIGURE])}
        turning = {pose: look for pose, look in looks.items() if any(own.uses[pose].turned for own in joints)}
        batches += [turning] if turning else []
    return batches or [{}]


def _batch_joints(joints: Sequence[JointRange]) -> list[Sequence[JointRange]]:
    """Even portions, as many as names fit beside each other."""
    count = -(-len(joints) // MOST_LABELS)
    size = -(-len(joints) // count) if count else 1
    return [joints[i : i + size] for i in range(0, len(joints), size)]
