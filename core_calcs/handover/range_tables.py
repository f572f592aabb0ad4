"""The tables of the range report: limits by joint and axis, every pose's use of them, records, how elements stood."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ..document.record import Record
from ..skeleton.joint import Joint, LimitSettings
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..studies.mounted import list_moved
from ..studies.ranges import AxisRange, JointRange, PoseUse, RangeTable
from ..studies.stops import AxisUse
from .tables import Cell, DataTable, table_of

RANGES, RANGES_BY_POSE, RECORDS, MOUNTED = "ranges", "ranges-by-pose", "records", "mounted"

_LIMIT_HEADS = ("low_deg", "low_stops_at", "high_deg", "high_stops_at", "low_to_high_deg", "at_least")
_SETTING_HEADS = (
    "overlap_at_least_percent",
    "contact_percent_of_size",
    "slide_percent_of_size",
    "gap_percent_of_size",
    "search_deg",
)
_JOINT_HEADS = ("joint", "parent", "part", "series", "side", "kind", "axis")
_SURE_HEADS = (
    "confidence",
    "evidence",
    "centre_standard_error_mm",
    "axes_standard_error_deg",
    "frame_rests_on",
    "coupled_range",
)


def tabulate_ranges(table: RangeTable) -> DataTable:
    """One row a joint and axis: limits, what ends them, both ways together, settings, how sure the joint is.

    Joints whose surfaces do not tell how they turn are in it too, with limits `not known`.
    """
    rows = [_range_row(own, axis) for own in (*table.joints, *table.ambiguous) for axis in own.axes]
    heads = (*_JOINT_HEADS, *_LIMIT_HEADS, *_SETTING_HEADS, *_SURE_HEADS)
    return table_of(RANGES, rows, heads)


def _range_row(own: JointRange, axis: AxisRange) -> dict[str, Cell]:
    joint = own.joint
    names = (joint.child, joint.parent, own.part, own.series, own.side, joint.kind, axis.axis)
    return {
        **dict(zip(_JOINT_HEADS, names, strict=True)),
        **_limit_cells(axis),
        **_setting_cells(joint.settings),
        **_sure_cells(joint),
    }


def _limit_cells(axis: AxisRange) -> dict[str, Cell]:
    if axis.limit is None or axis.both_rad is None:
        return dict.fromkeys(_LIMIT_HEADS)
    low, high = axis.limit.low, axis.limit.high
    cells: tuple[Cell, ...] = (math.degrees(low.angle_rad), low.reason, math.degrees(high.angle_rad), high.reason)
    at_least = "yes" if axis.open_ended else "no"
    return dict(zip(_LIMIT_HEADS, (*cells, math.degrees(axis.both_rad), at_least), strict=True))


def _setting_cells(settings: LimitSettings | None) -> dict[str, Cell]:
    """What the limits were computed with; empty where they were not computed."""
    if settings is None:
        return dict.fromkeys(_SETTING_HEADS, "")
    shares = (settings.overlap_share, settings.contact_share_s, settings.slide_share_s, settings.gap_share_s)
    values = (*(100 * share for share in shares), math.degrees(settings.search_rad))
    return dict(zip(_SETTING_HEADS, values, strict=True))


def _sure_cells(joint: Joint) -> dict[str, Cell]:
    uncertainty = joint.frame_uncertainty
    centre: Cell = ""
    axes: Cell = ""
    if uncertainty is not None:
        centre = None if uncertainty.centre_m is None else 1000 * uncertainty.centre_m
        axes = None if uncertainty.axes_rad is None else math.degrees(uncertainty.axes_rad)
    rests_on = "" if uncertainty is None else uncertainty.rests_on
    coupled = "no" if joint.envelope is None else "yes"
    return dict(zip(_SURE_HEADS, (joint.confidence, joint.reason, centre, axes, rests_on, coupled), strict=True))


def tabulate_uses(table: RangeTable) -> DataTable:
    """One row a pose, joint and axis: the angle, the share of the way to the end that it takes, what is beyond."""
    heads = ("pose", "joint", "axis", "angle_deg", "share_of_limit", "beyond_deg", "axis_state", "joint_inside_deg")
    rows = [
        dict(zip((*heads, "joint_state"), (pose, own.joint.child, *_use_cells(own, use, axis)), strict=True))
        for i, pose in enumerate(table.poses)
        for own in table.joints
        for use in (own.uses[i],)
        for axis in use.axes
    ]
    return table_of(RANGES_BY_POSE, rows, (*heads, "joint_state"))


def _use_cells(own: JointRange, use: PoseUse, axis: AxisUse) -> tuple[Cell, ...]:
    """A held axis has no share: there is no way to an end."""
    share: Cell = axis.share
    if own.known and axis.share is None:
        share = ""
    beyond = math.degrees(axis.beyond_rad) if own.known else None
    inside = None if use.inside_rad is None else math.degrees(use.inside_rad)
    return axis.axis, math.degrees(axis.angle_rad), share, beyond, axis.state, inside, use.state


def tabulate_records(records: Sequence[Record]) -> DataTable:
    """Corrections and overrides, the oldest first; what nobody has said is empty."""
    heads = ("when_utc", "by", "kind", "action", "elements", "what", "why", "evidence")
    rows = tuple((r.when, r.by, r.kind, r.action, "; ".join(r.elements), r.what, r.why, r.evidence) for r in records)
    return DataTable(RECORDS, heads, rows)


def tabulate_mounted(skeleton: Skeleton, poses: Sequence[Pose]) -> DataTable:
    """Elements that stood elsewhere in a pose as mounted than they do now at neutral, and by how much."""
    rows = tuple(
        (pose.name, own.element, 1000 * float(np.linalg.norm(own.shift_m)), math.degrees(own.angle_rad))
        for pose in poses
        for own in list_moved(skeleton, pose)
    )
    return DataTable(MOUNTED, ("pose", "element", "centre_off_mm", "turned_deg"), rows)
