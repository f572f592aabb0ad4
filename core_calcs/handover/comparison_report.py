"""The page that holds poses beside each other: a row a pose, best and worst of every measure told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from ..document.document import SkeletonDocument
from ..studies.assessment import SEVERITY, Assessment, State
from ..studies.chains import name_chains
from ..studies.comparison import ComparedRow, compare_poses, measure_pose, rank_as_read
from .comparison_figure import draw_compared
from .pages import render_page
from .quantities import NOT_KNOWN, format_quantity
from .state_marks import STATE_MARKS, StateMark

LEAST = 2
"""Fewer poses are not compared."""


@dataclass(frozen=True)
class ComparedCell:
    """One measure of one pose: the figure, where it is, and "best" or "worst" where it is."""

    figure: str
    place: str
    rank: str


@dataclass(frozen=True)
class ComparedPose:
    """A row of the page.

    folder : of the pose's own report; empty: it has none
    picture : address of its picture; empty: there is none
    failing : states of its checks but those that hold, the worst first, each with the checks' names
    """

    name: str
    folder: str
    state: State
    cells: tuple[ComparedCell, ...]
    picture: str
    note: str
    failing: tuple[tuple[State, str], ...]

    @property
    def mark(self) -> StateMark:
        """How its state is shown."""
        return STATE_MARKS[self.state]


def render_comparison(
    document: SkeletonDocument,
    assessments: Sequence[Assessment],
    folders: Mapping[str, str],
    made: datetime,
    pictures: Mapping[str, str] | None = None,
) -> str:
    """The page as HTML.

    folders : of every pose that has a report, by name
    made : when, in UTC
    pictures : addresses of images that need nothing else, by pose
    """
    chains = name_chains(document.skeleton)
    measured = [measure_pose(chains, found) for found in assessments]
    rows = compare_poses(measured)
    cells = [_write_row(row) for row in rows]
    notes, pictures = {pose.name: pose.note for pose in document.poses}, pictures or {}
    poses = [
        ComparedPose(
            own.pose,
            folders.get(own.pose, ""),
            own.state,
            tuple(row[i] for row in cells),
            pictures.get(own.pose, ""),
            notes.get(own.pose, ""),
            _list_failing(assessments[i]),
        )
        for i, own in enumerate(measured)
    ]
    return render_page(
        "comparison.html",
        running=f"{document.skeleton.name}, poses compared, {made:%Y-%m-%d}. Preliminary.",
        skeleton=document.skeleton,
        made=f"{made:%Y-%m-%d %H:%M} UTC",
        measures=[row.name for row in rows],
        poses=poses,
        marks=STATE_MARKS,
        bars=draw_compared([own.pose for own in measured], rows, "compared"),
    )


def _list_failing(found: Assessment) -> tuple[tuple[State, str], ...]:
    """What stands in the way of a pose, the worst first."""
    states = sorted({check.state for check in found.checks} - {"holds"}, key=SEVERITY.index, reverse=True)
    return tuple((state, "; ".join(check.name for check in found.checks if check.state == state)) for state in states)


def _write_row(row: ComparedRow) -> list[ComparedCell]:
    """A measure of every pose."""
    figures = [
        row.lacks or NOT_KNOWN if value is None else format_quantity(value, row.unit) if row.unit else f"{value:.0f}"
        for value in row.values
    ]
    ranked = rank_as_read(row, figures)
    ranks = ["best" if i in ranked.best else "worst" if i in ranked.worst else "" for i in range(len(figures))]
    return [ComparedCell(*cell) for cell in zip(figures, row.places, ranks, strict=True)]
