"""A triangulated surface in memory."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class Surface:
    """vertices (n, 3) float64 [m] and faces (m, 3) int64, counter-clockwise seen from outside."""

    vertices: NDArray[np.float64]
    faces: NDArray[np.int64]
