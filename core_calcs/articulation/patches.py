"""Patches of samples on a surface: connected pieces, opening, and growth to where the surface turns away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ..mesh.samples import Samples
from ..spatial.transforms import Array

Index = NDArray[np.int64]
LINK = 2.2
"""Samples up to so many spacings apart are neighbours."""

ELLIPSE = 2.15
"""Standard deviations from a patch's middle to where it is trimmed; the rim of a full ellipse lies at 2."""


def split_patches(samples: Samples, index: Index) -> list[Index]:
    """Connected pieces of a set of samples, the largest first."""
    if not len(index):
        return []
    pairs = cKDTree(samples.points[index]).query_pairs(LINK * samples.spacing, output_type="ndarray")
    graph = coo_matrix((np.ones(len(pairs)), pairs.T), shape=(len(index), len(index)))
    count, label = connected_components(graph, directed=False)
    pieces = [index[label == k] for k in range(count)]
    return sorted(pieces, key=len, reverse=True)


def open_patch(samples: Samples, index: Index, radius: float) -> Index:
    """Take away spurs and bridges narrower than about the radius, whatever single samples are missing inside.

    First those remain that have at least 70 % of their surroundings in the patch, counted among the samples that look
    the same way; then what lies within the radius of these comes back.
    """
    if not len(index):
        return index
    inside = np.zeros(len(samples.points), bool)
    inside[index] = True
    low, high = samples.points[index].min(axis=0) - radius, samples.points[index].max(axis=0) + radius
    near = np.flatnonzero(((samples.points >= low) & (samples.points <= high)).all(axis=1))
    within = cKDTree(samples.points[index]).sparse_distance_matrix(
        cKDTree(samples.points[near]), radius, output_type="coo_matrix"
    )
    row, column = within.row, near[within.col]
    alike = np.einsum("ij,ij->i", samples.normals[index[row]], samples.normals[column]) > 0.3
    around = np.bincount(row[alike], minlength=len(index))
    members = np.bincount(row[alike & inside[column]], minlength=len(index))
    core = index[members >= 0.7 * around]
    if not len(core):
        return core
    to_core = cKDTree(samples.points[core]).query(samples.points[index])[0]
    opened: Index = index[to_core <= radius]
    return opened


def mean_normal(samples: Samples, index: Index) -> Array:
    """Unit mean (3,) of the normals of a patch."""
    normal = samples.normals[index].mean(axis=0)
    unit: Array = normal / max(float(np.linalg.norm(normal)), 1e-12)
    return unit


@dataclass(frozen=True)
class Growth:
    """How far a patch grows, lengths in shares of s.

    reach_s : from the core at most; rings : in so many steps
    off_s, turn_rad : how far off the fitted surface a sample may lie, and how far its normal may turn from it
    lean_rad : how far its normal may turn from the patch's own
    """

    reach_s: float
    rings: int
    off_s: float
    turn_rad: float
    lean_rad: float


def grow_patch(samples: Samples, core: Index, size: float, growth: Growth) -> Index:
    """Grow a patch over its surface to where that turns away: the facet's rim.

    In each ring a quadric is fitted to the patch in its own plane; samples join that are connected and go on along it.
    """
    reach_s, rings = growth.reach_s, growth.rings
    centre, normal = samples.points[core].mean(axis=0), mean_normal(samples, core)
    plane = np.linalg.svd(np.eye(3) - np.outer(normal, normal))[0][:, :2]
    to_core = np.asarray(cKDTree(samples.points[core]).query(samples.points, distance_upper_bound=reach_s * size)[0])
    near = np.flatnonzero(np.isfinite(to_core))
    uv, height = (samples.points - centre) @ plane / size, (samples.points - centre) @ normal / size
    patch = core
    for ring in range(1, rings + 1):
        terms = np.linalg.lstsq(_quadric(uv[patch]), height[patch], rcond=None)[0]
        off = np.abs(height[near] - _quadric(uv[near]) @ terms)
        slope_u = terms[1] + 2 * terms[3] * uv[near, 0] + terms[5] * uv[near, 1]
        slope_v = terms[2] + 2 * terms[4] * uv[near, 1] + terms[5] * uv[near, 0]
        fitted = normal - slope_u[:, None] * plane[:, 0] - slope_v[:, None] * plane[:, 1]
        along = np.einsum("ij,ij->i", fitted, samples.normals[near]) / np.linalg.norm(fitted, axis=1)
        joins = (off < growth.off_s) & (along > np.cos(growth.turn_rad))
        joins &= samples.normals[near] @ normal > np.cos(growth.lean_rad)
        joins &= to_core[near] <= reach_s * size * ring / rings
        wanted = np.union1d(near[joins], core)
        pieces = split_patches(samples, wanted)
        patch = np.concatenate([piece for piece in pieces if np.isin(piece, core).any()])
    return patch


def trim_to_ellipse(samples: Samples, patch: Index) -> Index:
    """Take away what reaches far beyond the ellipse of a patch's own second moments: spurs on to other surfaces.

    A full ellipse ends at twice the standard deviation along any of its diameters; what lies within `ELLIPSE` stays.
    """
    normal = mean_normal(samples, patch)
    plane = np.linalg.svd(np.eye(3) - np.outer(normal, normal))[0][:, :2]
    flat = samples.points[patch] @ plane
    keep = np.ones(len(patch), bool)
    for _ in range(3):
        if keep.sum() < 10:
            return patch
        offset = flat - flat[keep].mean(axis=0)
        spread = np.linalg.inv(np.cov(flat[keep].T))
        keep = np.einsum("ij,jk,ik->i", offset, spread, offset) <= ELLIPSE**2
    trimmed: Index = patch[keep]
    return trimmed


def _quadric(uv: Array) -> Array:
    u, v = uv[:, 0], uv[:, 1]
    return np.column_stack([np.ones(len(uv)), u, v, u * u, v * v, u * v])
