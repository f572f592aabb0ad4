"""What the uncertainties of the masses do to the centre of mass, the base moment and the margin of a pose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..build.uncertainty import SCALE
from ..site.site import GRAVITY
from ..spatial.transforms import Array
from .assessment import Edge, Uncertainties
from .prepared import Prepared


@dataclass(frozen=True, eq=False)
class Balance:
    """What of a pose they act on: (n, 4, 4) motions, the whole's mass and centre (3,).

    datum_m : (3,) of the base moment
    edges : of the support polygon
    """

    motions: Array
    mass_kg: float
    centre_m: Array
    datum_m: Array
    edges: tuple[Edge, ...]


def propagate_uncertainties(prepared: Prepared, balance: Balance) -> Uncertainties:
    """Half-widths to first order, every source at its worst.

    Densities, wall, scale and sections of steel err alike everywhere; single surfaces, struts, discs and weighings each
    for itself. A larger scan moves centre, datum and edges away from one another.
    """
    if balance.mass_kg <= 0:
        return Uncertainties(None, None, None)
    masses, moments = _list_sources(prepared, balance)
    about = moments - masses[:, None] * balance.centre_m
    shifts = about / balance.mass_kg
    stretch = np.zeros(len(masses))
    stretch[SCALE] = prepared.build.scale_uncertainty_share
    arm = balance.centre_m - balance.datum_m
    weighed = moments - masses[:, None] * balance.datum_m + balance.mass_kg * stretch[:, None] * arm
    turned = GRAVITY * weighed[:, :2]
    direction = arm[:2] / (float(np.hypot(*arm[:2])) or 1.0)
    moved = shifts + stretch[:, None] * arm  # away from where it stands
    return Uncertainties(
        centre_m=np.abs(moved).sum(axis=0),
        base_moment_Nm=float(np.abs(turned @ direction).sum()),
        distance_margin_m=_bound_margin(balance.edges, shifts, stretch),
    )


def _list_sources(prepared: Prepared, balance: Balance) -> tuple[Array, Array]:
    """Change of mass (k,) and first moment (k, 3) of the whole from every source, in the world of the pose."""
    uncertainties, R, p = prepared.uncertainties, balance.motions[:, :3, :3], balance.motions[:, :3, 3]
    common = np.einsum("nij,snj->si", R, uncertainties.common_kgm) + uncertainties.common_kg @ p
    own = (
        np.einsum("mij,mj->mi", R[uncertainties.own_body], uncertainties.own_kgm)
        + uncertainties.own_kg[:, None] * p[uncertainties.own_body]
    )
    masses = np.concatenate([uncertainties.common_kg.sum(axis=1), uncertainties.own_kg])
    return masses, np.concatenate([common, own])


def _bound_margin(edges: tuple[Edge, ...], shifts: Array, stretch: Array) -> float | None:
    """The greatest first-order change of the least distance: the edge that governs is kept."""
    if not edges:
        return None
    edge = min(edges, key=lambda own: own.distance_m)
    along = edge.end_m - edge.start_m
    inwards = np.array([-along[1], along[0]]) / np.linalg.norm(along)
    return float(np.abs(shifts[:, :2] @ inwards + stretch * edge.distance_m).sum())
