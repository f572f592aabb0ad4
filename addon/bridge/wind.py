"""What poses show to the wind, as far as it was measured: kept by the content it came from, never out of date."""

from __future__ import annotations

from collections.abc import Sequence

from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.studies.acting import Acting, Outlines, Shown, act_on_pose
from .kept_document import KeptDocument

Key = tuple[object, ...]

KEPT_POSES = 40
"""So many poses besides the saved ones."""

_shown: dict[Key, Shown] = {}
_outlines: list[Outlines] = []
"""What was made ready last, of whatever skeleton."""


def find_outlines() -> Outlines | None:
    """What was made ready last: what it has of the same files need not be read again."""
    return _outlines[-1] if _outlines else None


def keep_shown(kept: KeptDocument, poses: Sequence[Pose], shown: Sequence[Shown], outlines: Outlines) -> None:
    """Keep what was measured of poses."""
    _outlines[:] = [outlines]
    for pose, own in zip(poses, shown, strict=True):
        note_shown(kept, pose, own)


def note_shown(kept: KeptDocument, pose: Pose, shown: Shown) -> None:
    """Keep what was measured of a pose."""
    while len(_shown) >= KEPT_POSES + len(kept.document.poses):
        del _shown[next(iter(_shown))]
    _shown[_key(kept, pose)] = shown


def known_shown(kept: KeptDocument, pose: Pose) -> Shown | None:
    """What a pose shows to the wind; None where nobody has measured, or no wind acts."""
    return _shown.get(_key(kept, pose)) if kept.document.site.wind is not None and _shown else None


def known_acting(kept: KeptDocument, pose: Pose) -> Acting | None:
    """All that acts on a pose, wind included; None where its silhouettes are not known."""
    shown = known_shown(kept, pose)
    return None if shown is None else act_on_pose(kept.document.skeleton, pose, kept.document.site, shown)


def _key(kept: KeptDocument, pose: Pose) -> Key:
    turned = frozenset((child, values.tobytes()) for child, values in pose.angles_rad.items() if values.any())
    mounted = frozenset((name, X_WE.tobytes()) for name, X_WE in pose.mounted.items())
    directions = kept.document.site.directions
    return (kept.shape, directions, pose.X_WN.tobytes(), turned, mounted)
