"""What uncertainties of density, wall, struts, scale, surface, steel and weighing do to the masses, and where."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ..skeleton.element import Element
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array
from .build import Build, Material
from .castings import bound_own_error, find_casting, find_material_of, require_void
from .parts import Part
from .weights import Weights

SCALE = 0
"""Row of the uncertainty of the scans' scale among those that all bodies share."""


@dataclass(frozen=True, eq=False)
class MassUncertainties:
    """Changes of mass with every source at its half-width; world of the neutral articulation.

    common_kg, common_kgm : (s, n) and (s, n, 3) mass and first moment of each body from sources that err alike
        everywhere: the scans' scale first, then the wall, the density of each material, the section of each steelwork
    own_kg, own_kgm, own_body : (m,), (m, 3) and (m,) of single surfaces, struts, discs and weighings, and which body
        carries them
    """

    common_kg: Array
    common_kgm: Array
    own_kg: Array
    own_kgm: Array
    own_body: np.ndarray


@dataclass
class _Sums:
    """Changes as they come in: by source for each body, and single ones."""

    common: dict[object, list[tuple[int, float, Array]]] = field(default_factory=lambda: defaultdict(list))
    own: list[tuple[int, float, Array]] = field(default_factory=list)


_SCALE_KEY, _WALL_KEY = "scale", "wall"


def list_uncertainties(skeleton: Skeleton, build: Build, weights: Weights, parts: Sequence[Part]) -> MassUncertainties:
    """The uncertainties of all elements and of what they carry; what was weighed has that of its weighing alone."""
    n, sums = len(skeleton.elements), _Sums()
    for i, element in enumerate(skeleton.elements):
        centre = weights.centre_m[i]
        if weights.weighed[i]:
            sums.own.append((i, float(weights.uncertainty_kg[i]), weights.uncertainty_kg[i] * centre))
            continue
        material = find_material_of(build, weights.castings[i])
        changed = material.density_uncertainty_kg_m3 * float(weights.metal_m3[i])
        sums.common[material].append((i, changed, changed * centre))
        _add_changes(sums, i, element, build, material, centre)
    for part in parts:
        for source, changed in part.common_kg.items():
            sums.common[source].append((part.body, changed, changed * part.centre_m))
        sums.common[_SCALE_KEY].append((part.body, part.scale_kg, part.scale_kg * part.centre_m))
        sums.own.append((part.body, part.own_kg, part.own_kg * part.centre_m))
    return _gather(sums, n)


def _gather(sums: _Sums, n: int) -> MassUncertainties:
    keys = [_SCALE_KEY, _WALL_KEY, *(key for key in sums.common if key not in (_SCALE_KEY, _WALL_KEY))]
    common_kg, common_kgm = np.zeros((len(keys), n)), np.zeros((len(keys), n, 3))
    for row, key in enumerate(keys):
        for body, kg, kgm in sums.common[key]:
            common_kg[row, body] += kg
            common_kgm[row, body] += kgm
    own = [single for single in sums.own if single[1] > 0]
    return MassUncertainties(
        common_kg,
        common_kgm,
        np.array([kg for _, kg, _ in own]),
        np.array([kgm for _, _, kgm in own]).reshape(-1, 3),
        np.array([body for body, _, _ in own], int),
    )


def _add_changes(sums: _Sums, i: int, element: Element, build: Build, material: Material, centre: Array) -> None:
    """What surface, wall, struts and scale do to an element that was not weighed."""
    casting, solid, density = find_casting(build, element), element.solid, material.density_kg_m3
    void, share = require_void(element, casting), build.scale_uncertainty_share
    grown, moment = 3 * solid.volume_m3, 3 * solid.volume_m3 * solid.centre_m
    if void is not None:
        empty = 1 - casting.struts_share
        thicker = empty * void.skin_area_m2 * casting.wall_uncertainty_m
        kept = empty * void.skin_area_m2 * casting.wall_m  # the wall does not grow with the scan
        grown -= 3 * empty * void.volume_m3 + kept
        moment = moment - 3 * empty * void.volume_m3 * void.centre_m - kept * void.skin_centre_m
        skin = element.X_WE[:3, :3] @ void.skin_centre_m + element.X_WE[:3, 3]
        sums.common[_WALL_KEY].append((i, density * thicker, density * thicker * skin))
    turned = element.X_WE[:3, :3] @ moment + grown * element.X_WE[:3, 3]
    sums.common[_SCALE_KEY].append((i, density * share * grown, density * share * turned))
    own = density * bound_own_error(element, casting)
    sums.own.append((i, own, own * centre))
