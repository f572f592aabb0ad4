"""The rim of a flat facet to a fraction of the samples' spacing.

Where half of a facet has slid off is told no better than its rim. The samples are as far apart as a joint turns by one
or two degrees, so that about the rim that was cut through them (`rims`) the surface is sampled anew, more densely, and
cut again: the same cut, of least length along creases, free to run within a band about the first.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..mesh.samples import Samples, sample_surface
from ..mesh.surface import Surface
from ..spatial.transforms import Array
from .patches import Index
from .rims import bound_band

FINER = 3
"""Times as dense along a line as the element's samples."""
_BAND = 2.0
"""Spacings of the element's samples to either side of the first rim within which the finer one runs."""
_MOST_SAMPLES = 40000


def sharpen_rim(surface: Surface, samples: Samples, patch: Index, size: float, roughness: float) -> Samples | None:
    """Denser samples of a facet, out to its rim; None where the surface has none to give.

    Parameters
    ----------
    samples, patch : of the element, and which of them lie in the facet
    size : s [m]
    roughness : of the surface about it, see `rims.bound_patch`
    """
    band = _BAND * samples.spacing
    fine = sample_about(surface, samples.points[patch], band + samples.spacing, samples.spacing / FINER)
    if fine is None:
        return None
    alike = fine.normals @ samples.normals[patch].mean(axis=0) > -0.2
    fine = fine.take(np.flatnonzero(alike))
    others = np.setdiff1d(np.flatnonzero(_lie_within(samples.points, samples.points[patch], 3 * band)), patch)
    to_patch = np.asarray(cKDTree(samples.points[patch]).query(fine.points)[0])
    to_others = np.full(len(fine.points), np.inf)
    if len(others):
        to_others = np.asarray(cKDTree(samples.points[others]).query(fine.points)[0])
    inside = bound_band(fine, to_patch < to_others, to_others > band, to_patch > band, size, roughness)
    return fine.take(inside) if len(inside) else None


def sample_about(surface: Surface, points: Array, reach: float, spacing: float) -> Samples | None:
    """Samples of a surface within `reach` of points (n, 3), so far apart [m]."""
    corners = surface.vertices[surface.faces]
    low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
    near = np.flatnonzero((corners.max(axis=1) >= low).all(axis=1) & (corners.min(axis=1) <= high).all(axis=1))
    if not len(near):
        return None
    part = sample_surface(Surface(surface.vertices, surface.faces[near]), spacing, 1, _MOST_SAMPLES)
    part = Samples(part.points, part.normals, near[part.triangles], part.area_m2)
    return part.take(np.flatnonzero(_lie_within(part.points, points, reach)))


def _lie_within(points: Array, others: Array, reach: float) -> NDArray[np.bool_]:
    """Which points (n, 3) lie within `reach` of the nearest of the others (m, 3)."""
    far = np.asarray(cKDTree(others).query(points, distance_upper_bound=reach)[0])
    return np.asarray(np.isfinite(far), bool)
