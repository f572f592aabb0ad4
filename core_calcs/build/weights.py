"""What every element weighs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..skeleton.element import Element
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, apply
from .build import Build, Casting
from .castings import bound_metal_error, find_casting, find_material_of, find_pits, measure_metal


@dataclass(frozen=True, eq=False)
class Weights:
    """Masses of all elements, in the skeleton's order; world of the neutral articulation.

    mass_kg, uncertainty_kg : (n,) as weighed, else as calculated; half-width, the worst of all its sources
    centre_m : (n, 3) centres of mass
    inertia_kg_m2 : (n, 3, 3) about the centres
    calculated_kg, metal_m3 : (n,) what they weigh, and are of metal, by calculation
    pits_m3 : (n,) how much less metal there is where pits are passed over; NaN: not known
    weighed : (n,) whether they were weighed
    castings : (n,) how they are cast
    """

    mass_kg: Array
    uncertainty_kg: Array
    centre_m: Array
    inertia_kg_m2: Array
    calculated_kg: Array
    metal_m3: Array
    pits_m3: Array
    weighed: np.ndarray
    castings: tuple[Casting, ...]


def weigh_elements(skeleton: Skeleton, build: Build) -> Weights:
    """Weigh every element as it is cast; a weighing goes before the calculation and keeps the centre calculated.

    Raises
    ------
    SkeletonError : an element's volume, centre or inertia is not finite, or its volume is negative; the void of a
        hollow casting has not been measured
    """
    elements = skeleton.elements
    for element in elements:
        _check_solid(element)
    castings = tuple(find_casting(build, element) for element in elements)
    metals = [measure_metal(element, casting) for element, casting in zip(elements, castings, strict=True)]
    errors = [
        bound_metal_error(e, casting, build.scale_uncertainty_share)
        for e, casting in zip(elements, castings, strict=True)
    ]
    metal, error = np.array([part.volume_m3 for part in metals]), np.array(errors)
    materials = [find_material_of(build, casting) for casting in castings]
    density = np.array([material.density_kg_m3 for material in materials])
    density_uncertainty = np.array([material.density_uncertainty_kg_m3 for material in materials])
    calculated = density * metal
    # The greatest departure of the product: (V + dV)(rho + drho) - V rho.
    uncertainty = density * error + density_uncertainty * (metal + error)
    mass = calculated.copy()
    weighed = np.zeros(len(elements), bool)
    for weighing in build.weighings:
        i = skeleton.index(weighing.element)
        mass[i], uncertainty[i], weighed[i] = weighing.mass_kg, weighing.uncertainty_kg, True
    X_WE = np.stack([element.X_WE for element in elements])
    R = X_WE[:, :3, :3]
    share = np.divide(mass, metal, out=np.zeros_like(mass), where=metal > 0)
    inertia_E = np.stack([part.inertia_m5 for part in metals]).astype(float) * share[:, None, None]
    return Weights(
        mass_kg=mass,
        uncertainty_kg=uncertainty,
        centre_m=apply(X_WE, np.stack([part.centre_m for part in metals]).astype(float)[:, None, :])[:, 0],
        inertia_kg_m2=R @ inertia_E @ np.swapaxes(R, -1, -2),
        calculated_kg=calculated,
        metal_m3=metal,
        pits_m3=np.array([find_pits(e, casting) for e, casting in zip(elements, castings, strict=True)]),
        weighed=weighed,
        castings=castings,
    )


def _check_solid(element: Element) -> None:
    solid = element.solid
    figures = np.concatenate([[solid.volume_m3, solid.volume_error_m3], solid.centre_m, np.ravel(solid.inertia_m5)])
    if not np.isfinite(figures.astype(float)).all() or solid.volume_m3 < 0 or solid.volume_error_m3 < 0:
        what = "its volume, centre or inertia is no proper number"
        raise SkeletonError(element.name, what, "mend or leave out its mesh")
