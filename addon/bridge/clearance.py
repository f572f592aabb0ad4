"""What is known of which elements run into each other: kept by the content it came from, never out of date."""

from __future__ import annotations

from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.studies.clearance import Clearance, PreparedClearance, Tried, is_prepared_for, list_hits
from .kept_document import KeptDocument

Key = tuple[object, ...]

KEPT_SKELETONS, KEPT_POSES = 2, 200
"""So many poses besides the saved ones: what was found in older ones is forgotten."""


class KnownClearance:
    """What was made ready of a skeleton, and what was found in its poses."""

    def __init__(self, prepared: PreparedClearance) -> None:
        self.prepared = prepared
        self._found: dict[Key, Clearance] = {}
        self._fits: dict[str, bool] = {}

    def fits(self, kept: KeptDocument) -> bool:
        """Whether it is of the document's skeleton."""
        if kept.digest not in self._fits:
            self._fits = {kept.digest: is_prepared_for(self.prepared, kept.document.skeleton)}
        return self._fits[kept.digest]

    def find(self, kept: KeptDocument, pose: Pose) -> Clearance | None:
        """What runs into what in a pose; None where it has not been tried."""
        return self._found.get(_key(kept, pose))

    def note(self, kept: KeptDocument, pose: Pose, tried: Tried) -> None:
        """Keep what was found in a pose."""
        while len(self._found) >= KEPT_POSES + len(kept.document.poses):
            del self._found[next(iter(self._found))]
        self._found[_key(kept, pose)] = list_hits(self.prepared, tried, kept.document.site)


_known: list[KnownClearance] = []

_rested: dict[Key, Clearance] = {}
"""What was found beside Blender once a pose rested; by skeleton and pose."""


def find_known(kept: KeptDocument) -> KnownClearance | None:
    """What is known of the document's skeleton; None where nobody has looked."""
    return next((known for known in _known if known.fits(kept)), None)


def find_earlier() -> PreparedClearance | None:
    """What was made ready last, of whatever skeleton: what it has of the same files need not be read again."""
    return _known[-1].prepared if _known else None


def keep_prepared(kept: KeptDocument, prepared: PreparedClearance) -> KnownClearance:
    """Keep what was made ready of a document's skeleton, instead of the oldest of others."""
    known = find_known(kept)
    if known is None:
        del _known[: max(0, len(_known) - KEPT_SKELETONS + 1)]
        known = KnownClearance(prepared)
        _known.append(known)
    return known


def known_clearance(kept: KeptDocument, pose: Pose) -> Clearance | None:
    """What runs into what in a pose; None where nobody has looked."""
    known = find_known(kept)
    found = None if known is None else known.find(kept, pose)
    return found or (_rested.get((kept.shape, *_key(kept, pose))) if _rested else None)


def note_clearance(kept: KeptDocument, pose: Pose, found: Clearance) -> None:
    """Keep what was found beside Blender."""
    while len(_rested) >= KEPT_POSES + len(kept.document.poses):
        del _rested[next(iter(_rested))]
    _rested[(kept.shape, *_key(kept, pose))] = found


def drop_clearance() -> None:
    """Forget everything: after load, and when the add-on ends."""
    _known.clear()
    _rested.clear()


def _key(kept: KeptDocument, pose: Pose) -> Key:
    """Of what the hits depend on: joints at neutral are no part of it, nor is the pose's name."""
    turned = ((child, values.tobytes()) for child, values in pose.angles_rad.items() if values.any())
    mounted = ((name, X_WE.tobytes()) for name, X_WE in pose.mounted.items())
    return (pose.X_WN.tobytes(), frozenset(turned), frozenset(mounted), kept.document.site.clearance_share_s)
