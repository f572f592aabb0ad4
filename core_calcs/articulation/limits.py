"""Limits of a joint about each axis alone: where bone contact, facet overlap or the gap ends the movement.

They hold for bone and facets at the stated settings: an outer bound on what the living joint could do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..skeleton.joint import AxisLimit, LimitSettings, Stop, StopReason
from ..spatial.rotations import joint_rotation
from ..spatial.transforms import Array, invert, make_transform
from .contact import Contact, prepare_contact, relieve_contact
from .covering import Covering, prepare_facet_contact
from .facets import Patch
from .partner import Partner

_STEP_RAD = float(np.radians(2.0))
_HALVINGS = 5


@dataclass(frozen=True, eq=False)
class Trial:
    """A joint ready to be turned: contact, facets, frame and the settings' lengths [m]."""

    X_WJ: Array
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
    facets = [prepare_facet_contact(on_parent, on_child) for on_parent, on_child in pairs]
    known = tuple(facet for facet in facets if facet is not None)
    trial = prepare_trial(parent, child, known, X_WJ, senses, settings)
    limits = [find_limit(trial, axis, settings.search_rad) for axis in range(3)]
    return limits[0], limits[1], limits[2]


def find_limit(trial: Trial, axis: int, search_rad: float) -> AxisLimit:
    """Turn the child about one axis (0 flexion, 1 lateral, 2 axial) both ways, until the first thing stops it."""
    return AxisLimit(_march(trial, axis, -1, search_rad), _march(trial, axis, 1, search_rad))


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
    return Trial(X_WJ, senses, contact, facets, settings.overlap_share, settings.gap_share_s * size)


def try_angles(trial: Trial, angles_rad: Array) -> tuple[StopReason, Array] | None:
    """What stops the joint at these angles (3,), and where (3,); None where nothing does."""
    turn = make_transform(joint_rotation(angles_rad, trial.senses), np.zeros(3))
    X_moved = trial.X_WJ @ turn @ invert(trial.X_WJ)
    relief = relieve_contact(trial.contact, X_moved)
    if relief.place is not None:
        return "bone contact", relief.place
    for facet in trial.facets:
        cover = facet.measure(X_moved, relief.slide)
        if cover.share < trial.overlap_share:
            return "facet overlap", cover.place
        if cover.opening > trial.gap:
            return "gap", cover.place
    return None


def _march(trial: Trial, axis: int, direction: int, search_rad: float) -> Stop:
    """The first angle that is stopped, to a sixteenth of a degree or so; the last one that is free is the limit."""
    free = 0.0
    for k in range(1, int(np.ceil(search_rad / _STEP_RAD - 1e-9)) + 1):
        angle = min(k * _STEP_RAD, search_rad)
        stopped = try_angles(trial, _about(axis, direction * angle))
        if stopped is None:
            free = angle
            continue
        low, high = free, angle
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            found = try_angles(trial, _about(axis, direction * middle))
            if found is None:
                low = middle
            else:
                high, stopped = middle, found
        return Stop(direction * low, stopped[0], stopped[1])
    return Stop(direction * search_rad, "search range", None)


def _about(axis: int, angle: float) -> Array:
    angles = np.zeros(3)
    angles[axis] = angle
    return angles
