"""The page that holds poses beside each other: a row a pose, best and worst of every measure told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from ..document.document import SkeletonDocument
from ..studies.assessment import Assessment, State
from ..studies.chains import name_chains
from ..studies.comparison import ComparedRow, compare_poses, measure_pose
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
    """A row of the page. folder : of the pose's own report"""

    name: str
    folder: str
    state: State
    cells: tuple[ComparedCell, ...]

    @property
    def mark(self) -> StateMark:
        """How its state is shown."""
        return STATE_MARKS[self.state]


def render_comparison(
    document: SkeletonDocument, assessments: Sequence[Assessment], folders: Mapping[str, str], made: datetime
) -> str:
    """The page as HTML. folders : of every pose, by name; made : when, in UTC"""
    chains = name_chains(document.skeleton)
    measured = [measure_pose(chains, found) for found in assessments]
    rows = compare_poses(measured)
    poses = [
        ComparedPose(own.pose, folders[own.pose], own.state, tuple(_write_cell(row, i) for row in rows))
        for i, own in enumerate(measured)
    ]
    return render_page(
        "comparison.html",
        running=f"{document.skeleton.name}, poses compared, {made:%Y-%m-%d}. Preliminary.",
        skeleton=document.skeleton,
        made=f"{made:%Y-%m-%d %H:%M} UTC",
        measures=[row.name for row in rows],
        poses=poses,
    )


def _write_cell(row: ComparedRow, pose: int) -> ComparedCell:
    value = row.values[pose]
    figure = NOT_KNOWN if value is None else format_quantity(value, row.unit) if row.unit else f"{value:.0f}"
    rank = "best" if pose in row.best else "worst" if pose in row.worst else ""
    return ComparedCell(figure, row.places[pose], rank)
