"""What a pose does to its base, about any point."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..spatial.transforms import Array
from ..statics.wrenches import move_wrenches
from .assessment import Summary


def move_base(found: Summary, datum_m: ArrayLike) -> tuple[Array, Array]:
    """Force and moment (..., 3) of the whole on the ground about points (..., 3), world axes."""
    base = np.concatenate([found.base_force_N, found.base_moment_Nm])
    moved = move_wrenches(base, found.datum_m, datum_m)
    return moved[..., :3], moved[..., 3:]
