"""The support of a pose in space, and how far it is to tipping in every direction."""

from __future__ import annotations

import numpy as np

from ..site.site import GRAVITY, Site
from ..spatial.transforms import Array
from ..statics.rose import Rose as Rose
from ..statics.rose import measure_rose
from ..statics.stability import find_axes
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


def find_rose(found: Summary, site: Site) -> Rose | None:
    """Margins of a pose at rest in 72 directions, its push at the centre of mass; None where it does not stand."""
    if not found.edges:
        return None
    weight, height = GRAVITY * found.mass_kg, float(found.centre_m[2])
    return measure_rose(find_axes(place_corners(found, site)), found.centre_m, weight, height)
