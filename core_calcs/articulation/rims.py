"""The rim of a flat facet: a closed cut round the samples that look one way, along creases where there are any.

A facet is nearly flat and ends where the bone turns away; where it runs on smoothly into its process, the rim is what
joins the ends of the crease by the shortest way. Both follow from one minimum cut (Boykov & Kolmogorov, *Computing
geodesics and minimal surfaces via graph cuts*, ICCV 2003): samples are drawn in by how nearly they look as the facet
does, and every link between neighbours that is cut costs its share of the cut's length, little across a crease.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, maximum_flow
from scipy.spatial import cKDTree

from ..mesh.samples import Samples
from ..spatial.transforms import Array
from .patches import LINK, Index, mean_normal, split_patches

REACH_S = 0.16
"""A facet reaches no farther than this beyond its core."""
TILT_RAD = np.radians(9.5)
"""Samples that look within this of the facet's mean normal are drawn in, others pushed out; more on a rough surface."""
CREASE_RAD = np.radians(10)
"""A link whose ends look so far apart costs 1/e of a link on a flat."""
PULL = 10.0
"""Length of cut [s] that is paid for each s² drawn in: features narrower than about 2 / PULL s are smoothed away."""
SMOOTHING_S, ROUGH_RAD = 0.015, np.radians(4.5)
"""Normals are smoothed over so much on a surface whose normals scatter by up to `ROUGH_RAD`, on a rougher one more."""
FINE_SMOOTHING = 0.75
"""Of the spacing of the denser samples: so much their normals are smoothed over, times the roughness."""
_ROUGHNESS_S, _ROUGHEST = 0.03, 2.0
_DEAREST = 0.05
_SHARE_OF_REACH = 0.92
_ROUNDS = 8
_BENDS = 0.8
"""A facet is vaulted or hollow where an even bend explains so much of the spread of its normals; else it is flat."""
_UNIT = 1e7
"""Capacities are whole numbers: so many to a cut one s long."""


@dataclass(frozen=True, eq=False)
class _Field:
    """The samples about a core and what a cut between them costs.

    near : (n,) into the samples; normals : (n, 3) smoothed
    links : (m, 2) pairs of neighbours in `near`; costs : (m,) of cutting them, in s; flat : of one on a flat
    inside, outside : (n,) certainly in the facet; too far off to belong to it
    roughness : 1 on a smooth surface, up to 2 on a rough one
    """

    near: Index
    normals: Array
    links: NDArray[np.int64]
    costs: Array
    flat: float
    inside: NDArray[np.bool_]
    outside: NDArray[np.bool_]
    roughness: float


def bound_patch(samples: Samples, core: Index, size: float) -> tuple[Index, float, float]:
    """Samples of the flat facet that a core (indices) belongs to, out to its rim, and how open that rim is.

    size : s [m]

    Returns
    -------
    the samples' indices, and what the cut round them costs as a share of one on a flat: small where a crease runs all
    the way round, 1 where nothing bounds the patch; the core itself and 1 where no facet holds together; and how rough
    the surface is: 1 where it is smooth, up to 2
    """
    field = _lay_out(samples, core, size)
    start = np.isin(field.near, core)
    inside = _find_cut(samples, field, start, size)
    if inside is None:
        return core, 1.0, field.roughness
    cut = inside[field.links[:, 0]] != inside[field.links[:, 1]]
    return field.near[inside], float(field.costs[cut].mean()) / field.flat, field.roughness


def bound_band(
    samples: Samples,
    start: NDArray[np.bool_],
    inside: NDArray[np.bool_],
    outside: NDArray[np.bool_],
    size: float,
    roughness: float,
) -> Index:
    """Samples of a facet out to its rim, which runs within a band.

    start : (n,) which lie in the facet as far as is known; inside, outside : (n,) which certainly do and do not
    """
    points = samples.points
    normals = _average(cKDTree(points), points, samples.normals, FINE_SMOOTHING * samples.spacing * roughness)
    links, costs, flat = _link(samples, points, normals, size)
    field = _Field(np.arange(len(points)), normals, links, costs, flat, inside, outside, roughness)
    found = _find_cut(samples, field, start, size)
    return field.near[start if found is None else found]


def _find_cut(samples: Samples, field: _Field, start: NDArray[np.bool_], size: float) -> NDArray[np.bool_] | None:
    """Which of the field's samples (n,) lie in the facet, cut again until nothing changes; None where none holds."""
    area_s2, inside = samples.area_m2 / size**2, start
    for _ in range(_ROUNDS):
        expected = _expect_normals(samples.points[field.near], field.normals, inside)
        tilt = np.arccos(np.clip(np.einsum("ij,ij->i", field.normals, expected), -1, 1))
        worth = PULL * area_s2 * np.clip(1 - (tilt / (TILT_RAD * field.roughness)) ** 2, -1, 1)
        cut = _cut_cheapest(field, worth)
        pieces = split_patches(samples, field.near[cut])
        if not pieces:
            return None
        most = max(pieces, key=lambda piece: int(np.isin(piece, field.near[inside]).sum()))
        before, inside = inside, np.isin(field.near, most)
        if (inside == before).all():
            break
    return inside


def _expect_normals(points: Array, normals: Array, inside: NDArray[np.bool_]) -> Array:
    """Unit normals (n, 3) that a facet with these samples inside would have at every sample.

    Its mean normal; of a vaulted or hollow facet, whose normals turn evenly along it, what they turn to there.
    """
    mean, middle = normals[inside].mean(axis=0), points[inside].mean(axis=0)
    offsets, turns = points - middle, normals[inside] - mean
    bend = np.linalg.lstsq(offsets[inside], turns, rcond=1e-3)[0]
    left = ((turns - offsets[inside] @ bend) ** 2).sum()
    curved = left < (1 - _BENDS) * (turns**2).sum()
    expected = mean + offsets @ bend if curved else np.tile(mean, (len(points), 1))
    unit: Array = expected / np.maximum(np.linalg.norm(expected, axis=1), 1e-12)[:, None]
    return unit


def _lay_out(samples: Samples, core: Index, size: float) -> _Field:
    reach = REACH_S * size
    far = np.asarray(cKDTree(samples.points[core]).query(samples.points, distance_upper_bound=reach)[0])
    near = np.flatnonzero(np.isfinite(far) & (samples.normals @ mean_normal(samples, core) > -0.2))
    points = samples.points[near]
    normals, roughness = _smooth_normals(points, samples.normals[near], size)
    links, costs, flat = _link(samples, points, normals, size)
    within = np.zeros(len(near), bool)
    return _Field(near, normals, links, costs, flat, within, far[near] > _SHARE_OF_REACH * reach, roughness)


def _link(samples: Samples, points: Array, normals: Array, size: float) -> tuple[NDArray[np.int64], Array, float]:
    """Pairs of neighbours (m, 2), what each costs to cut (m,), and what one on a flat does [s]."""
    radius = LINK * samples.spacing
    links = cKDTree(points).query_pairs(radius, output_type="ndarray")
    turn = np.arccos(np.clip(np.einsum("ij,ij->i", normals[links[:, 0]], normals[links[:, 1]]), -1, 1))
    # So many links of up to this radius cross a metre of a straight line.
    crossing = 2 / 3 * radius**3 / samples.area_m2**2
    flat = 1 / (crossing * size)
    costs = flat * (_DEAREST + (1 - _DEAREST) * np.exp(-turn / CREASE_RAD))
    return links, costs, flat


def _smooth_normals(points: Array, normals: Array, size: float) -> tuple[Array, float]:
    """Normals (n, 3) smoothed the more, the rougher the surface is; and its roughness."""
    tree = cKDTree(points)
    over = _average(tree, points, normals, _ROUGHNESS_S * size)
    scatter = float(np.median(np.arccos(np.clip(np.einsum("ij,ij->i", over, normals), -1, 1))))
    roughness = float(np.clip(scatter / ROUGH_RAD, 1, _ROUGHEST))
    return _average(tree, points, normals, SMOOTHING_S * size * roughness), roughness


def _average(tree: cKDTree, points: Array, normals: Array, radius: float) -> Array:
    """Unit normals averaged with their neighbours', those that face the other way left out."""
    i, j = tree.query_pairs(2 * radius, output_type="ndarray").T
    weight = np.exp(-(((points[i] - points[j]) / radius) ** 2).sum(axis=1))
    weight *= np.einsum("ij,ij->i", normals[i], normals[j]) > 0.2
    mean = normals.copy()
    for k in range(3):
        mean[:, k] += np.bincount(i, weight * normals[j, k], len(points))
        mean[:, k] += np.bincount(j, weight * normals[i, k], len(points))
    unit: Array = mean / np.linalg.norm(mean, axis=1)[:, None]
    return unit


def _cut_cheapest(field: _Field, worth: Array) -> NDArray[np.bool_]:
    """Which samples (n,) lie inside the cut that costs least: lengths cut, less the worth (n,) of what is inside."""
    count = len(field.near)
    source, sink, each = count, count + 1, np.arange(count)
    drawn, pushed = np.maximum(worth, 0), np.maximum(-worth, 0)
    drawn[field.outside], pushed[field.outside] = 0, 100
    drawn[field.inside], pushed[field.inside] = 100, 0
    i, j = field.links.T
    rows = np.concatenate([i, j, np.full(count, source), each])
    columns = np.concatenate([j, i, each, np.full(count, sink)])
    capacity = np.minimum(np.round(np.concatenate([field.costs, field.costs, drawn, pushed]) * _UNIT), 2**30)
    graph = csr_array((capacity.astype(np.int32), (rows, columns)), shape=(count + 2, count + 2))
    left = csr_array(graph - maximum_flow(graph, source, sink).flow)
    left.data = np.maximum(left.data, 0)
    left.eliminate_zeros()
    reached = breadth_first_order(left, source, return_predecessors=False)
    inside = np.zeros(count + 2, bool)
    inside[reached] = True
    return inside[:count]
