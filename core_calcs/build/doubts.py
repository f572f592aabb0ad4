"""What doubts of density, wall, scale, surface and weighing do to every element's mass, and where."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..skeleton.element import Element
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array
from .build import Build
from .castings import find_casting, require_void
from .weights import Weights


@dataclass(frozen=True, eq=False)
class MassDoubts:
    """Changes of mass with every source at its half-width; world of the neutral articulation.

    common_kg, common_kgm : (3, n) and (3, n, 3) mass and first moment from density, wall and scale, each of which
        errs alike in all elements
    own_kg : (n,) of each element alone, at its centre: surface and resolution, or its weighing
    """

    common_kg: Array
    common_kgm: Array
    own_kg: Array


def list_doubts(skeleton: Skeleton, build: Build, weights: Weights) -> MassDoubts:
    """The doubts of all elements; one that was weighed has the doubt of its weighing alone."""
    n = len(skeleton.elements)
    common_kg, common_kgm, own = np.zeros((3, n)), np.zeros((3, n, 3)), weights.doubt_kg.copy()
    density, density_doubt = build.material.density_kg_m3, build.material.density_doubt_kg_m3
    for i, element in enumerate(skeleton.elements):
        if weights.weighed[i]:
            continue
        common_kg[0, i] = density_doubt * weights.metal_m3[i]
        common_kgm[0, i] = common_kg[0, i] * weights.centre_m[i]
        error, wall, scale = _find_changes(element, build)
        own[i] = density * error
        for source, (volume, moment_E) in enumerate((wall, scale), start=1):
            common_kg[source, i] = density * volume
            turned = element.X_WE[:3, :3] @ moment_E + volume * element.X_WE[:3, 3]
            common_kgm[source, i] = density * turned
    return MassDoubts(common_kg, common_kgm, own)


def _find_changes(element: Element, build: Build) -> tuple[float, tuple[float, Array], tuple[float, Array]]:
    """Error of the metal's volume, and what the doubts of wall and scale add to it with its first moment, frame E."""
    casting, solid = find_casting(build, element), element.solid
    void = require_void(element, casting)
    grown, moment = 3 * solid.volume_m3, 3 * solid.volume_m3 * solid.centre_m
    share = build.scale_doubt_share
    if void is None:
        return solid.volume_error_m3, (0.0, np.zeros(3)), (share * grown, share * moment)
    empty = 1 - casting.struts_share
    thicker = empty * void.skin_area_m2 * casting.wall_doubt_m
    kept = empty * void.skin_area_m2 * casting.wall_m  # the wall does not grow with the scan
    grown -= 3 * empty * void.volume_m3 + kept
    moment = moment - 3 * empty * void.volume_m3 * void.centre_m - kept * void.skin_centre_m
    error = solid.volume_error_m3 + empty * void.volume_error_m3
    return error, (thicker, thicker * void.skin_centre_m), (share * grown, share * moment)
