"""A triangulated surface in memory."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class Surface:
    """vertices (n, 3) float64 [m] and faces (m, 3) int64, counter-clockwise seen from outside.

    colours : (n, 3) of the vertices, sRGB from 0 to 1, on display surfaces alone; None: the scan has none
    colours_fault : file and why colours that it says to have could not be read; empty where they were, or it has none
    """

    vertices: NDArray[np.float64]
    faces: NDArray[np.int64]
    colours: NDArray[np.float64] | None = None
    colours_fault: str = ""
