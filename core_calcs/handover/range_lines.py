"""What the range report says in its tables: every figure as text."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from ..skeleton.joint import Joint, LimitSettings, Stop
from ..skeleton.pose import Pose
from ..studies.assessment import State
from ..studies.ranges import AxisRange, JointRange, PartSum, PoseUse, RangeTable
from .figure_names import SERIES_NAMES
from .quantities import NOT_KNOWN, format_fixed, format_setting
from .report_joints import REASON_LETTERS
from .state_marks import STATE_MARKS, StateMark

POSES_IN_TABLE = 4
"""So many stand beside each other on a page."""


@dataclass(frozen=True)
class EndText:
    """An end of a movement: the angle [deg], and the letter of what ends it there."""

    angle: str
    letter: str


@dataclass(frozen=True)
class AxisText:
    """A range about one axis: its two ends and both together; `whole` instead where there is nothing of the kind."""

    low: EndText | None
    high: EndText | None
    both: str
    whole: str = ""


@dataclass(frozen=True)
class LimitLine:
    """One joint: its child, its parent, three ranges, the letter of its settings, how sure it is."""

    joint: str
    parent: str
    axes: tuple[AxisText, ...]
    settings: str
    sure: str
    starts: str = ""


@dataclass(frozen=True)
class UseText:
    """How one pose uses one joint: three angles, the greatest share of a way to an end, and a mark where it matters."""

    angles: tuple[str, ...]
    share: str
    mark: StateMark | None
    turned: bool


@dataclass(frozen=True)
class UseTable:
    """How up to POSES_IN_TABLE poses use the joints that any of them turns.

    still : how many joints stand at neutral in all of these poses
    """

    poses: tuple[str, ...]
    lines: tuple[tuple[str, tuple[UseText, ...]], ...]
    still: int


@dataclass(frozen=True)
class PoseLine:
    """One pose as a whole: how many joints it turns, and how they stand in their ranges."""

    pose: str
    note: str
    turned: int
    inside: int
    close: int
    outside: int
    unknown: int
    farthest: str
    state: State

    @property
    def mark(self) -> StateMark:
        """How its state is shown."""
        return STATE_MARKS[self.state]


@dataclass(frozen=True)
class SureLine:
    """How sure one joint is: in a word, standard errors of centre and axes, what told it, the number of a note."""

    joint: str
    sure: str
    centre_mm: str
    axes_deg: str
    evidence: str
    note: str


@dataclass(frozen=True)
class SureTable:
    """How sure the joints are; notes : what their frames rest on, each told once, numbered from 1."""

    lines: tuple[SureLine, ...]
    notes: tuple[str, ...]


def letter_settings(table: RangeTable) -> dict[LimitSettings, str]:
    """A letter for each set of settings in use, the commonest first."""
    return {settings: _letter(i) for i, (settings, _) in enumerate(table.settings)}


def _letter(i: int) -> str:
    return chr(ord("A") + i) if i < 26 else f"{_letter(i // 26 - 1)}{_letter(i % 26)}"


def list_settings(table: RangeTable) -> tuple[tuple[str, ...], ...]:
    """A row for each set of settings: letter, joints, overlap, contact, sliding, gap, search."""
    letters = letter_settings(table)
    rows = []
    for settings, count in table.settings:
        shares = (settings.overlap_share, settings.contact_share_s, settings.slide_share_s, settings.gap_share_s)
        texts = [format_setting(100 * share, "%") for share in shares]
        rows.append((letters[settings], str(count), *texts, f"{format_fixed(math.degrees(settings.search_rad), 0)}°"))
    return tuple(rows)


def list_limits(table: RangeTable, joints: Sequence[JointRange]) -> tuple[LimitLine, ...]:
    """A line for each joint; the first of each part of the skeleton tells that it starts."""
    letters = letter_settings(table)
    lines, part = [], ""
    for own in joints:
        joint = own.joint
        settings = letters[joint.settings] if joint.settings else "–"
        axes = tuple(_tell_axis(axis) for axis in own.axes)
        starts = "" if own.part == part else SERIES_NAMES.get(own.part, own.part)
        lines.append(LimitLine(joint.child, joint.parent, axes, settings, tell_sure(joint), starts))
        part = own.part
    return tuple(lines)


def _tell_axis(axis: AxisRange) -> AxisText:
    if axis.limit is None or axis.both_rad is None:
        return AxisText(None, None, "", NOT_KNOWN)
    if axis.held:
        return AxisText(None, None, "", "held")
    both = ("≥ " if axis.open_ended else "") + format_fixed(math.degrees(axis.both_rad), 1)
    return AxisText(_tell_end(axis.limit.low), _tell_end(axis.limit.high), both)


def _tell_end(end: Stop) -> EndText:
    return EndText(format_fixed(math.degrees(end.angle_rad), 1), REASON_LETTERS[end.reason])


def tell_sure(joint: Joint) -> str:
    """How sure a joint is, in a word or two."""
    if joint.confidence == "found" and joint.marks:
        return "found, facets marked"
    return joint.confidence


def list_uses(table: RangeTable) -> tuple[UseTable, ...]:
    """How the poses use the joints, a few poses at a time."""
    tables = []
    for first in range(0, len(table.poses), POSES_IN_TABLE):
        numbers = range(first, min(first + POSES_IN_TABLE, len(table.poses)))
        turned = [own for own in table.joints if any(own.uses[i].turned for i in numbers)]
        lines = tuple(
            (own.joint.child, tuple(_tell_use(own.uses[i], table.poses[i] in table.mounted) for i in numbers))
            for own in turned
        )
        tables.append(UseTable(tuple(table.poses[i] for i in numbers), lines, len(table.joints) - len(turned)))
    return tuple(tables)


def _tell_use(use: PoseUse, mounted: bool) -> UseText:
    """Where elements stood wrong their angles are no share of a range."""
    angles = tuple(format_fixed(math.degrees(axis.angle_rad), 1) for axis in use.axes)
    mark = None if use.state == "holds" else STATE_MARKS[use.state]
    share = "–" if mounted and use.turned else _tell_share(use.greatest_share)
    return UseText(angles, share, mark, use.turned)


def _tell_share(share: float | None) -> str:
    return "" if share is None else f"{format_fixed(100 * share, 0)} %"


def list_poses(table: RangeTable, poses: Sequence[Pose]) -> tuple[PoseLine, ...]:
    """A line for each pose, with the joint that is farthest outside or, where none is, nearest to an end.

    A pose is `not known` where it turns a joint whose limits are: at neutral they do not matter.
    """
    lines = []
    for i, pose in enumerate(poses):
        uses = [own.uses[i] for own in table.joints]
        states = [use.state for use in uses]
        outside, unknown, close = states.count("fails"), states.count("not known"), states.count("close")
        in_the_dark = any(use.turned for use in uses if use.state == "not known")
        state: State = "fails" if outside else "not known" if in_the_dark else "close" if close else "holds"
        counts = (sum(use.turned for use in uses), states.count("holds"), close, outside, unknown)
        farthest = "not a pose: as the elements were mounted" if pose.mounted else _tell_farthest(table, i)
        lines.append(PoseLine(pose.name, pose.note, *counts, farthest, state))
    return tuple(lines)


def _tell_farthest(table: RangeTable, pose: int) -> str:
    known = [(own.joint.child, own.uses[pose]) for own in table.joints if own.uses[pose].inside_rad is not None]
    outside = [(use.inside_rad or 0.0, child) for child, use in known if use.state == "fails"]
    if outside:
        far, child = min(outside)
        return f"{child}, {format_fixed(-math.degrees(far), 1)}° outside"
    turned = [(use.greatest_share or 0.0, child) for child, use in known if use.turned]
    if not turned:
        return "all at neutral"
    share, child = max(turned, key=lambda own: own[0])
    return f"{child}, {_tell_share(share)} of the way"


def list_sums(sums: Sequence[PartSum]) -> tuple[tuple[str, ...], ...]:
    """A row for each part of the column: joints, and flexion–extension, lateral, axial added up over them."""
    rows = []
    for own in sums:
        both = [
            NOT_KNOWN if rad is None else ("≥ " if at_least else "") + f"{format_fixed(math.degrees(rad), 1)}°"
            for rad, at_least in zip(own.both_rad, own.open_ended, strict=True)
        ]
        rows.append((SERIES_NAMES.get(own.part, own.part), str(own.joints), *both))
    return tuple(rows)


def list_pose_sums(table: RangeTable, sums: Sequence[PartSum]) -> tuple[tuple[str, ...], ...]:
    """A row for each pose: flexion, lateral, axial [deg] added up over each part of the column in turn."""
    return tuple(
        (name, *(format_fixed(math.degrees(angle), 1) for own in sums for angle in own.angles_rad[i]))
        for i, name in enumerate(table.poses)
        if name not in table.mounted
    )


def list_sure(joints: Sequence[JointRange]) -> SureTable:
    """How sure every joint is, and what it rests on."""
    notes: dict[str, int] = {}
    lines = []
    for own in joints:
        text = _tell_frame(own.joint)
        number = str(notes.setdefault(text, len(notes) + 1)) if text else "–"
        lines.append(_tell_evidence(own.joint, number))
    return SureTable(tuple(lines), tuple(notes))


def _tell_frame(joint: Joint) -> str:
    """What a joint's frame rests on, without the names of its two elements: alike of joints that are alike."""
    text = "" if joint.frame_uncertainty is None else joint.frame_uncertainty.rests_on
    ends = {joint.child: "the element itself", joint.parent: "the element that it hangs on"}
    for name in sorted(ends, key=len, reverse=True):
        text = re.sub(rf"(?<!\w){re.escape(name)}(?![\w.])", ends[name], text)
    return text


def _tell_evidence(joint: Joint, note: str) -> SureLine:
    """Standard errors have columns of their own, so that the words of the find leave them out."""
    evidence = joint.reason.split("; standard error of")[0] if joint.frame_uncertainty else joint.reason
    centre, axes = "–", "–"
    if joint.frame_uncertainty is not None:
        rad, far = joint.frame_uncertainty.axes_rad, joint.frame_uncertainty.centre_m
        centre = NOT_KNOWN if far is None else format_fixed(1000 * far, 2)
        is_ball = joint.fit is not None and joint.fit.family == "ball"  # its axes are a convention
        axes = "–" if is_ball else NOT_KNOWN if rad is None else format_fixed(math.degrees(rad), 1)
    return SureLine(joint.child, tell_sure(joint), centre, axes, evidence, note)
