"""A joint of the column, whole: facets, frame and limits; and how an element is fixed to another."""

from __future__ import annotations

from dataclasses import replace

from ..skeleton.joint import DiscThickness, Joint, LimitSettings
from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import Array
from .column import ColumnAxes
from .disc_spacing import space_by_disc
from .envelopes import find_range
from .facets import FoundFacets, find_facets
from .frame_uncertainty import find_column_uncertainty
from .frames import JointFrame, column_frame, find_cut, fixed_frame
from .partner import Partner

ASKS_FOR_HAND = ": set it by hand"
"""How the reason ends of a joint of the column that was looked for and not found."""
LOOSE = ": to be assembled"
"""How the reason ends of a joint of the column that was not looked for, because its elements stand anywhere."""


def find_column_joint(
    parent: Partner,
    child: Partner,
    axes: ColumnAxes,
    child_headward: bool,
    settings: LimitSettings,
    placed: JointFrame | None = None,
    disc: DiscThickness | None = None,
    progress: Progress = ignore_progress,
) -> Joint:
    """The joint between two neighbours of the column; fixed, with the reason, where their centra do not meet.

    placed : the frame that the user has given it; None: the one that its facets tell
    disc : its disc is to be so thick, for which the child is moved along the column; None: as the gap is
    """
    headward, tailward = (child, parent) if child_headward else (parent, child)
    found = find_facets(headward, tailward, axes)
    return make_column_joint(parent, child, found, axes, child_headward, settings, placed, disc, progress)


def make_column_joint(
    parent: Partner,
    child: Partner,
    found: FoundFacets,
    axes: ColumnAxes,
    child_headward: bool,
    settings: LimitSettings,
    placed: JointFrame | None = None,
    disc: DiscThickness | None = None,
    progress: Progress = ignore_progress,
) -> Joint:
    """The same from facets that were found already.

    Raises
    ------
    SkeletonError : no disc can be so thick there; see `disc_spacing.space_by_disc`
    """
    if disc is not None:
        spaced = space_by_disc(parent, child, found, axes.head * (1 if child_headward else -1), disc.thickness_m)
        child, found, disc = spaced.child, spaced.facets, replace(disc, shift_m=spaced.shift_m)
    pairs = tuple(pair[::-1] if child_headward else pair for pair in found.pairs)
    facets = tuple(patch.as_facet() for pair in (*pairs, found.unsure) for patch in pair)
    if found.centrum is None:
        reason = f"{found.reason}{ASKS_FOR_HAND}"
        fixed = attach_fixed(parent.name, child.name, parent.samples.points, child.samples.points, reason)
        return Joint(
            fixed.parent, fixed.child, "fixed", fixed.X_WJ, fixed.senses, None, facets, found.confidence, reason, None
        )
    size = min(parent.size, child.size)
    on_parent, on_child = next(pair for pair in pairs if pair[0].kind == "centrum")
    frame = placed or column_frame(on_parent, on_child, axes, child_headward, size)
    uncertainty = None if placed else find_column_uncertainty(frame.ball, on_parent, on_child, pairs, axes)
    limits, envelope = find_range(parent, child, pairs, frame.X_WJ, frame.senses, settings, progress)
    confidence, reason = found.confidence, f"{found.reason}; {frame.how}"
    if frame.objection:
        confidence, reason = "ambiguous", f"{reason}; {frame.objection}"
    return Joint(
        parent.name, child.name, "column", frame.X_WJ, frame.senses, limits, facets, confidence, reason, settings,
        envelope=envelope, frame_uncertainty=uncertainty, disc=disc,
    )  # fmt: skip


def attach_fixed(parent: str, child: str, parent_points: Array, child_points: Array, reason: str) -> Joint:
    """A fixed attachment, cut where the surfaces (points (n, 3) in the world) come closest."""
    X_WJ = fixed_frame(find_cut(parent_points, child_points))
    return Joint(parent, child, "fixed", X_WJ, (1, 1, 1), None, (), "none", reason, None)
