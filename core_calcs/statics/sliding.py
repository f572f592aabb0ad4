"""Whether friction keeps the whole in its place."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


def find_sliding_factor(weight_N: float, push_N: ArrayLike, friction: float) -> float:
    """Friction that can be called up over the horizontal push (2,) [N]; infinite without a push."""
    push = float(np.hypot(*np.asarray(push_N, float)))
    return friction * weight_N / push if push > 0 else float("inf")
