"""Elements made ready for joints: the partners of a joint."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh.crests import find_crests
from ..mesh.distance_grid import DistanceGrid, build_distance_grid
from ..mesh.samples import Samples, sample_surface
from ..mesh.surface import Surface
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array

SAMPLES_A_SIZE = 40
"""Samples are s/40 apart, s the size of an element."""
CELLS_A_SIZE = 50
"""Nodes of the distance grid are s/50 apart."""
LIMB_CELLS_A_SIZE = 36
"""In a limb, whose joints turn farther and whose bones are long: half as many nodes near the surface."""


@dataclass(frozen=True, eq=False)
class Partner:
    """What facets and limits need of an element, in the world of the neutral articulation.

    size : s, the cube root of its volume [m]
    centre : (3,) its centre of volume [m]
    crests : (n, 3) vertices that stand out of it [m]
    surface : its triangles
    """

    name: str
    size: float
    centre: Array
    samples: Samples
    grid: DistanceGrid
    crests: Array
    surface: Surface


def prepare_partner(
    name: str,
    surface: Surface,
    volume_m3: float,
    centre: Array,
    smallest_neighbour: float | None = None,
    cells_a_size: float = CELLS_A_SIZE,
) -> Partner:
    """Samples and distance grid of an element whose surface is given in the world.

    Parameters
    ----------
    smallest_neighbour : size of its smallest partner [m]: the grid is made fine enough for that one as well

    Raises
    ------
    SkeletonError : the volume is not positive
    """
    if not volume_m3 > 0:
        raise SkeletonError(name, "it encloses no volume, so that its size is not known", "close its surface")
    size = float(np.cbrt(volume_m3))
    finest = size if smallest_neighbour is None else min(size, 2 * smallest_neighbour)
    samples = sample_surface(surface, finest / SAMPLES_A_SIZE)
    grid = build_distance_grid(surface, finest / cells_a_size)
    crests = find_crests(surface, samples.spacing)
    return Partner(name, size, np.asarray(centre, float), samples, grid, crests, surface)
