"""A rib on its vertebra: by head and tubercle, about the axis through both."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..skeleton.element import Side
from ..skeleton.joint import FrameUncertainty, Joint, LimitSettings
from ..spatial.transforms import Array, make_transform
from .column_joint import ASKS_FOR_HAND, attach_fixed
from .facets import Patch
from .frame_uncertainty import find_angle
from .frames import JointFrame
from .limb_facets import Facing, find_cores
from .limb_joint import HELD
from .limits import find_limit, prepare_coverings, prepare_trial
from .partner import Partner


def find_rib_joint(
    vertebra: Partner, rib: Partner, side: Side, settings: LimitSettings, placed: JointFrame | None = None
) -> Joint:
    """The joint of a rib that is let turn: a hinge through head and tubercle; fixed where the two are not told apart.

    Parameters
    ----------
    side : of the rib: on the right the axis is turned round, so that the same number means the same movement
    placed : the frame that the user has given it; None: the one that its facets tell
    """
    on_vertebra, on_rib = find_cores(vertebra, rib), find_cores(rib, vertebra)
    patches = [] if on_rib is None else _list_patches(on_rib)
    others = [] if on_vertebra is None else _list_patches(on_vertebra)
    facets = tuple(patch.as_facet() for patch in (*others, *patches))
    names, points = (vertebra.name, rib.name), (vertebra.samples.points, rib.samples.points)
    if len(patches) != 2 or not others:
        reason = f"head and tubercle do not both face {vertebra.name}, apart from each other{ASKS_FOR_HAND}"
        return replace(attach_fixed(*names, *points, reason), facets=facets, confidence="ambiguous")
    head, tubercle = sorted(patches, key=lambda patch: -float(np.linalg.norm(_find_middle(patch) - rib.centre)))
    frame = placed or _make_frame(_find_middle(head), _find_middle(tubercle), rib.centre, side)
    pairs = tuple((min(others, key=lambda other: _find_distance(other, patch)), patch) for patch in (head, tubercle))
    coverings = prepare_coverings(pairs, min(vertebra.size, rib.size))
    trial = prepare_trial(vertebra, rib, coverings, frame.X_WJ, frame.senses, settings)
    limits = find_limit(trial, 0, settings.search_rad), HELD, HELD
    reason = "turns about the axis through the rib's head and tubercle"
    uncertainty = None if placed else _find_axis_uncertainty(patches, others)
    return Joint(
        *names,
        "limb",
        frame.X_WJ,
        frame.senses,
        limits,
        facets,
        "found",
        reason,
        settings,
        frame_uncertainty=uncertainty,
    )


def _find_axis_uncertainty(patches: list[Patch], others: list[Patch]) -> FrameUncertainty:
    """The rib's facets and the vertebra's are two readings of the axis; not known where the latter shows one alone."""
    rests_on = "the middles of the facets of head and tubercle, held against those of the vertebra"
    if len(others) != 2:
        return FrameUncertainty(None, None, rests_on)
    ends = np.array([_find_middle(patch) for patch in patches])
    beside = np.array([_find_middle(min(others, key=lambda other: _find_distance(other, patch))) for patch in patches])
    line, other_line = ends[1] - ends[0], beside[1] - beside[0]
    apart = ends.mean(axis=0) - beside.mean(axis=0)
    across = apart - line * float(apart @ line) / float(line @ line)
    return FrameUncertainty(
        float(np.linalg.norm(across)) / 2, find_angle(line, other_line) / float(np.sqrt(2)), rests_on
    )


def _list_patches(facing: Facing) -> list[Patch]:
    how = "faces its partner most closely"
    return [Patch("articular surface", facing.bone, piece, facing.gap_m, how=how) for piece in facing.pieces]


def _find_middle(patch: Patch) -> Array:
    middle: Array = patch.points.mean(axis=0)
    return middle


def _find_distance(one: Patch, other: Patch) -> float:
    return float(np.linalg.norm(_find_middle(one) - _find_middle(other)))


def _make_frame(head: Array, tubercle: Array, centre: Array, side: Side) -> JointFrame:
    """x through both, y along the rib from between them towards its centre of volume (3,)."""
    middle = (head + tubercle) / 2
    x = (head - tubercle) if side == "right" else (tubercle - head)
    x = x / np.linalg.norm(x)
    y = centre - middle
    y = y - x * float(x @ y)
    y /= np.linalg.norm(y)
    return JointFrame(make_transform(np.column_stack([x, y, np.cross(x, y)]), middle), (1, 1, 1), "")
