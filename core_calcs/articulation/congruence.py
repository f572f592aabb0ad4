"""How closely bones meet their neighbours in one arrangement, against another: joint by joint, each by its own share.

Areas tell little of bones that lie side by side: where two shafts face each other there is much of it, and none of it
is a joint. So every joint counts by the share that it gains or loses, and wide ones for little.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import exp
from typing import TypeVar

from .seating import Joint

NARROW_S = 0.1
"""A joint that is so wide counts for 1/e."""
LITTLE_S2 = 0.05
"""Of an area far smaller than this, in s², a share says nothing."""
_APART = Joint(0.0, 2 * NARROW_S)
"""Of two bones that do not meet."""
K = TypeVar("K")
"""What joints are called by, the same in both arrangements."""


def compare_joints(now: Mapping[K, Joint], then: Mapping[K, Joint]) -> float:
    """The share by which bones meet more closely then than now, from -1 to 1; 0 where nothing meets."""
    gained = counted = 0.0
    for key in now.keys() | then.keys():
        before, after = now.get(key, _APART), then.get(key, _APART)
        counts = exp(-min(before.width_s, after.width_s) / NARROW_S)
        both = after.close_s2 + before.close_s2 + 2 * LITTLE_S2
        gained += counts * (after.close_s2 - before.close_s2) / both
        counted += counts
    return gained / counted if counted else 0.0
