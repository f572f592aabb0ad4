"""Points spread over a surface."""

from __future__ import annotations

import numpy as np

from ..spatial.transforms import Array

SPREAD_POINTS = 96
_LOOK_AT = 3000


def spread_points(points: Array, count: int = SPREAD_POINTS) -> Array:
    """Up to `count` of the points (n, 3), each as far from the others as can be: the next is always the farthest.

    Of very many points an even share is looked at. The first is the one nearest the head (greatest x).
    """
    seen = points[:: max(1, -(-len(points) // _LOOK_AT))]
    if len(seen) <= count:
        return np.array(seen, float)
    chosen = [int(np.argmax(seen[:, 0]))]
    distance = np.full(len(seen), np.inf)
    for _ in range(count - 1):
        offset = seen - seen[chosen[-1]]
        np.minimum(distance, np.einsum("ij,ij->i", offset, offset), out=distance)
        chosen.append(int(np.argmax(distance)))
    return np.array(seen[chosen], float)
