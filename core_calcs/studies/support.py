"""The support of a pose in space: corners as high as the ground under their feet."""

from __future__ import annotations

import numpy as np

from ..site.site import Site
from ..spatial.transforms import Array
from .assessment import FootLoad, Summary


def place_corners(found: Summary, site: Site) -> Array:
    """Corners (k, 3) of the support polygon [m], each as high as the ground under its foot; k may be 0, 1 or 2."""
    footings = {footing.foot: footing.height_m for footing in site.footings}

    def find_ground(foot: FootLoad) -> float:
        if foot.centre_m is not None:
            return float(foot.centre_m[2])
        return site.ground_m + footings.get(foot.foot, 0.0)

    heights = {tuple(point[:2].tolist()): find_ground(foot) for foot in found.feet for point in foot.points_m}
    plan = found.support_polygon_m.reshape(-1, 2).tolist()
    corners: Array = np.array([(x, y, heights[x, y]) for x, y in plan], float).reshape(-1, 3)
    return corners
