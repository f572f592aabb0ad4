"""What every element weighs as a solid casting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, apply
from .build import Build


@dataclass(frozen=True, eq=False)
class Weights:
    """Masses of all elements, in the skeleton's order; world of the neutral articulation.

    mass_kg, doubt_kg : (n,) and the half-width of the doubt, from the volume's error and the density's
    centre_m : (n, 3) centres of mass
    inertia_kg_m2 : (n, 3, 3) about the centres
    """

    mass_kg: Array
    doubt_kg: Array
    centre_m: Array
    inertia_kg_m2: Array


def weigh_elements(skeleton: Skeleton, build: Build) -> Weights:
    """Weigh every element as a solid of the build's material.

    Raises
    ------
    SkeletonError : an element's volume, centre or inertia is not finite, or its volume is negative
    """
    solids = [element.solid for element in skeleton.elements]
    X_WE = np.stack([element.X_WE for element in skeleton.elements])
    volume = np.array([solid.volume_m3 for solid in solids])
    error = np.array([solid.volume_error_m3 for solid in solids])
    centre_E = np.stack([solid.centre_m for solid in solids]).astype(float)
    inertia_E = np.stack([solid.inertia_m5 for solid in solids]).astype(float)
    sound = np.isfinite(volume) & np.isfinite(error) & (volume >= 0) & (error >= 0)
    sound &= np.isfinite(centre_E).all(axis=1) & np.isfinite(inertia_E).all(axis=(1, 2))
    for i in np.flatnonzero(~sound):
        name = skeleton.elements[i].name
        raise SkeletonError(name, "its volume, centre or inertia is no proper number", "mend or leave out its mesh")
    density, doubt = build.material.density_kg_m3, build.material.density_doubt_kg_m3
    R = X_WE[:, :3, :3]
    return Weights(
        mass_kg=density * volume,
        # The greatest departure of the product: (V + dV)(rho + drho) - V rho.
        doubt_kg=density * error + doubt * (volume + error),
        centre_m=apply(X_WE, centre_E[:, None, :])[:, 0],
        inertia_kg_m2=density * (R @ inertia_E @ np.swapaxes(R, -1, -2)),
    )
