"""Limits of a joint about each axis alone: where bone contact, facet overlap or the gap ends the movement.

They hold for bone and facets at the stated settings: an outer bound on what the living joint could do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..skeleton.joint import AxisLimit, LimitSettings, Stop, StopReason
from ..spatial.rotations import joint_rotation
from ..spatial.transforms import Array, invert, make_transform
from .contact import Contact, list_slides, meet, prepare_contact
from .covering import Covering, prepare_facet_contact
from .facets import Patch
from .frames import find_ball
from .partner import Partner

_STEP_RAD = float(np.radians(2.0))
_HALVINGS = 5


@dataclass(frozen=True, eq=False)
class Trial:
    """A joint ready to be turned: partners, frame, contact, facets and the settings' lengths [m]."""

    parent: Partner
    child: Partner
    X_WJ: Array
    X_JW: Array
    senses: tuple[int, int, int]
    contact: Contact
    facets: tuple[Covering, ...]
    overlap_share: float
    gap: float


def find_limits(
    parent: Partner,
    child: Partner,
    pairs: tuple[tuple[Patch, Patch], ...],
    X_WJ: Array,
    senses: tuple[int, int, int],
    settings: LimitSettings,
) -> tuple[AxisLimit, AxisLimit, AxisLimit]:
    """Turn the child about each axis, both ways, until the first thing stops it.

    Parameters
    ----------
    pairs : facets (of the parent, of the child)
    X_WJ, senses : the joint's frame in the world and its senses

    Returns
    -------
    Limits for flexion, lateral, axial: angle, what governs, where
    """
    facets = prepare_coverings(pairs, min(parent.size, child.size))
    trial = prepare_trial(parent, child, facets, X_WJ, senses, settings)
    return find_three_limits(trial, settings.search_rad)


def find_three_limits(trial: Trial, search_rad: float) -> tuple[AxisLimit, AxisLimit, AxisLimit]:
    """The same of a joint that is ready to be turned."""
    limits = [find_limit(trial, axis, search_rad) for axis in range(3)]
    return limits[0], limits[1], limits[2]


def find_limit(trial: Trial, axis: int, search_rad: float) -> AxisLimit:
    """Turn the child about one axis (0 flexion, 1 lateral, 2 axial) both ways, until the first thing stops it."""
    return AxisLimit(_march(trial, axis, -1, search_rad), _march(trial, axis, 1, search_rad))


def prepare_coverings(pairs: tuple[tuple[Patch, Patch], ...], size: float) -> tuple[Covering, ...]:
    """The facets that lie over each other at neutral. End plates are bound by a disc, but for a ball in its cotyle."""
    facets = [
        prepare_facet_contact(on_parent, on_child, _is_bound(on_parent, on_child, size))
        for on_parent, on_child in pairs
    ]
    return tuple(facet for facet in facets if facet is not None)


def _is_bound(on_parent: Patch, on_child: Patch, size: float) -> bool:
    return on_parent.kind == "centrum" and find_ball(on_parent, on_child, size) is None


def prepare_trial(
    parent: Partner,
    child: Partner,
    facets: tuple[Covering, ...],
    X_WJ: Array,
    senses: tuple[int, int, int],
    settings: LimitSettings,
) -> Trial:
    """Scale the settings by the smaller partner's size and measure the neutral placement."""
    size = min(parent.size, child.size)
    contact = prepare_contact(
        parent, child, X_WJ[:3, 3], size, settings.contact_share_s * size, settings.slide_share_s * size
    )
    return Trial(
        parent, child, X_WJ, invert(X_WJ), senses, contact, facets, settings.overlap_share, settings.gap_share_s * size
    )


def try_angles(trial: Trial, angles_rad: Array) -> tuple[StopReason, Array] | None:
    """What stops the joint at these angles (3,), and where (3,); None where nothing does.

    Of the slides that relieve the contact one will do that leaves the facets together as well. What is said of the
    others is what stopped the first.
    """
    turn = make_transform(joint_rotation(angles_rad, trial.senses), np.zeros(3))
    X_moved = trial.X_WJ @ turn @ trial.X_JW
    meeting = meet(trial.contact, X_moved)
    first: tuple[_Opened, Array] | None = None
    for slide in list_slides(meeting):
        found = _try_facets(trial, X_moved, slide)
        if found is None:
            return None
        first = first or (found, slide)
    if first is None:
        return "bone contact", meeting.place
    (reason, facet, point), slide = first
    return reason, facet.locate(X_moved, slide, point)


_Opened = tuple[StopReason, Covering, int | None]
"""What stops a slid child, which facet, and which of its points."""


def _try_facets(trial: Trial, X_moved: Array, slide: Array) -> _Opened | None:
    for facet in trial.facets:
        cover = facet.measure(X_moved, slide)
        if cover.share < trial.overlap_share:
            return "facet overlap", facet, None
        if cover.opening > trial.gap:
            return "gap", facet, cover.rim
    return None


def _march(trial: Trial, axis: int, direction: int, search_rad: float) -> Stop:
    """The first angle that is stopped, to a sixteenth of a degree or so; the last one that is free is the limit.

    The same angles are tried whatever the search range and the settings: a tighter one then never goes farther.
    """
    free = 0.0
    for k in range(1, int(np.ceil(search_rad / _STEP_RAD - 1e-9)) + 1):
        stopped = try_angles(trial, _about(axis, direction * k * _STEP_RAD))
        if stopped is None:
            free = k * _STEP_RAD
            continue
        low, high = free, k * _STEP_RAD
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            found = try_angles(trial, _about(axis, direction * middle))
            if found is None:
                low = middle
            else:
                high, stopped = middle, found
        if low < search_rad:
            return Stop(direction * low, stopped[0], stopped[1])
        break
    return Stop(direction * search_rad, "search range", None)


def _about(axis: int, angle: float) -> Array:
    angles = np.zeros(3)
    angles[axis] = angle
    return angles
