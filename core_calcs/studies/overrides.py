"""What of a skeleton somebody has set by hand between two states of its document: told, so that it can be kept."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from ..document.document import SkeletonDocument
from ..document.record import Action, Record
from ..site.actions import Factors
from ..site.site import Site
from ..skeleton.joint import AXES, AxisLimit, Joint, LimitSettings
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array, invert
from .places_by_hand import describe_placed, list_placed

_FINEST = 1e-9
"""Metres and radians: below that a frame was not moved."""
_SETTINGS = {
    "overlap_share": "overlap",
    "contact_share_s": "contact in s",
    "slide_share_s": "slide in s",
    "gap_share_s": "gap in s",
    "search_rad": "search in rad",
}


def record_overrides(
    before: SkeletonDocument, after: SkeletonDocument, by: str, when: str, why: str = ""
) -> SkeletonDocument:
    """The later document with a record of everything that was set by hand since the earlier one.

    A document that has gained records of its own is left as it is: whoever corrected it has said so.

    Parameters
    ----------
    by : who did it, as typed; empty: not told
    when : UTC, as 2026-11-27T03:10:00Z
    why : of factors that were changed; of joints it stands with them
    """
    if len(after.records) > len(before.records):
        return after
    found = list_overrides(before.skeleton, after.skeleton, by, when)
    return replace(after, records=(*after.records, *found, *_list_factors(before.site, after.site, by, when, why)))


def _list_factors(before: Site, after: Site, by: str, when: str, why: str) -> tuple[Record, ...]:
    """One where the partial factors were changed."""
    was, now = vars(before.factors), vars(after.factors)
    changed = [name for name in now if was[name] != now[name]]
    if not changed:
        return ()
    what = "; ".join(f"{name.replace('_', ' ')} {was[name]:g} to {now[name]:g}" for name in changed)
    action: Action = "put back" if after.factors == Factors() else "factors"
    return (Record("override", action, (), f"partial factors: {what}", why.strip(), "", by.strip(), when),)


def list_overrides(before: Skeleton, after: Skeleton, by: str, when: str) -> tuple[Record, ...]:
    """Records of what was set by hand between two states of a skeleton, or given up again."""
    known = {joint.child: joint for joint in before.joints}
    records = []
    for joint in after.joints:
        if joint.child in known:
            for action, what, why in _compare(before, after, known[joint.child], joint):
                records.append(Record("override", action, (joint.child,), what, why, "", by.strip(), when))
    return tuple(records)


def _compare(before: Skeleton, after: Skeleton, old: Joint, new: Joint) -> list[tuple[Action, str, str]]:
    """What was done to a joint: action, what, why."""
    found = [*_compare_place(after, old, new), *_compare_disc(old, new)]
    if old.also != new.also:
        what = (
            f"follows {new.parent} alone" if new.also is None else f"follows {new.parent} and {new.also}, half and half"
        )
        found.append(("follows two" if new.also else "put back", what, ""))
    if old.marks != new.marks:
        told = [f"{mark.kind} on {mark.element}" for mark in new.marks]
        what = f"found from facets marked by hand: {', '.join(told)}" if told else "its marked facets are given up"
        found.append(("facet marked" if told else "put back", what, ""))
    return [*found, *_compare_joint(before, after, old, new)]


def _compare_place(after: Skeleton, old: Joint, new: Joint) -> list[tuple[Action, str, str]]:
    if old.placing is new.placing or _place_of(old) == _place_of(new):
        return []
    if new.placing is None:
        return [("put back", "back to where it was scanned", "")]
    placed = next(own for own in list_placed(after) if own.element == new.child)
    return [("placed", describe_placed(replace(placed, reason="")).removesuffix(": "), placed.reason)]


def _place_of(joint: Joint) -> tuple[bytes, str] | None:
    return None if joint.placing is None else (joint.placing.X_PE.tobytes(), joint.placing.reason)


def _compare_disc(old: Joint, new: Joint) -> list[tuple[Action, str, str]]:
    was, now = (None if own.disc is None else (own.disc.thickness_m, own.disc.reason) for own in (old, new))
    if was == now:
        return []
    gap = f"{1000 * (old.gap_m or 0.0):.1f} mm"
    if now is None:
        return [("put back", f"disc back to the gap that was scanned; it was {gap}", "")]
    return [("disc", f"disc {1000 * now[0]:.1f} mm thick; before {gap}", now[1])]


def _compare_joint(before: Skeleton, after: Skeleton, old: Joint, new: Joint) -> list[tuple[Action, str, str]]:
    """Kind, frame, limits and settings."""
    moved = _measure_frame(before, after, old, new)
    if new.kind == "by hand":
        if old.kind == "by hand" and not moved and _ends(old) == _ends(new) and old.reason == new.reason:
            return []
        where = f"; its frame {moved}" if moved else ""
        return [("joint set", f"{tell_range(new)}; before: {tell_range(old)}{where}", new.reason)]
    if new.confidence == "by hand" and not new.moves:
        fixed_before = old.confidence == "by hand" and not old.moves and old.reason == new.reason
        return [] if fixed_before else [("joint fixed", f"fixed; before: {tell_range(old)}", new.reason)]
    if new.confidence == "by hand" and (old.confidence != "by hand" or moved):
        return [("frame moved", f"its frame {moved or 'kept by hand'}; {tell_range(new)}", new.reason)]
    if old.confidence == "by hand" != new.confidence:
        return [("put back", f"searched for from nothing: {tell_range(new)}; by hand: {tell_range(old)}", "")]
    if old.settings is not None and new.settings is not None and old.settings != new.settings:
        return [
            (
                "settings",
                f"{_tell_settings(old.settings, new.settings)}: {tell_range(new)}; before: {tell_range(old)}",
                "",
            )
        ]
    return []


def tell_range(joint: Joint) -> str:
    """The limits of a joint in words and degrees."""
    if not joint.moves:
        return "fixed"
    if joint.limits is None:
        return "limits not known"
    return ", ".join(f"{axis} {_tell_limit(limit)}" for axis, limit in zip(AXES, joint.limits, strict=True))


def _tell_limit(limit: AxisLimit) -> str:
    low, high = (round(math.degrees(stop.angle_rad), 1) + 0.0 for stop in (limit.low, limit.high))
    return "held" if low == high else f"{low:.1f} to {high:.1f}°"


def _tell_settings(old: LimitSettings, new: LimitSettings) -> str:
    changed = [name for name in _SETTINGS if getattr(old, name) != getattr(new, name)]
    return ", ".join(f"{_SETTINGS[name]} {getattr(old, name):.4g} to {getattr(new, name):.4g}" for name in changed)


def _ends(joint: Joint) -> list[tuple[float, float]]:
    return [(limit.low.angle_rad, limit.high.angle_rad) for limit in joint.limits or ()]


def _measure_frame(before: Skeleton, after: Skeleton, old: Joint, new: Joint) -> str:
    """How far a joint's frame was moved on its parent, in words; empty: not at all."""
    D = invert(_on_parent(before, old)) @ _on_parent(after, new)
    shift = float(np.linalg.norm(D[:3, 3]))
    turn = math.acos(min(1.0, max(-1.0, (float(np.trace(D[:3, :3])) - 1) / 2)))
    parts = [f"moved by {1000 * shift:.1f} mm"] if shift > _FINEST else []
    if turn > math.sqrt(_FINEST):  # an arc cosine near one holds half the digits
        parts.append(f"turned by {math.degrees(turn):.1f}°")
    return " and ".join(parts)


def _on_parent(skeleton: Skeleton, joint: Joint) -> Array:
    X_PJ: Array = invert(skeleton.elements[skeleton.index(joint.parent)].X_WE) @ joint.X_WJ
    return X_PJ
