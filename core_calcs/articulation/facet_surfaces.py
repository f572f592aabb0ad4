"""What a facet looks like: its outline as a loop of points, and the plainest surface that it lies on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay, QhullError

from ..mesh.samples import Samples
from ..skeleton.joint import Confidence, Facet, FacetKind, FacetSurface
from ..spatial.transforms import Array
from .fits import root_mean_square
from .patches import Index, mean_normal
from .spheres import fit_sphere

_LONGEST_LINK = 2.5
"""Triangles with a side longer than so many spacings lie across a bay of the outline, or outside it."""
_MOST_CORNERS = 32
_CLEARLY = 0.7
"""A richer surface is taken where its points lie off by less than this share of what they do off a plainer one."""
_EVEN = 0.05
"""Of the spacing of the samples: no plainer surface is refused for less."""
_LEAST_POINTS = 12


def describe_facet(
    kind: FacetKind, element: str, samples: Samples, patch: Index, gap_m: float, how: str, confidence: Confidence
) -> Facet:
    """The facet that samples of an element make."""
    points = samples.points[patch]
    return Facet(
        kind, element, points.mean(axis=0), mean_normal(samples, patch), len(patch) * samples.area_m2, gap_m,
        trace_outline(samples, patch), describe_surface(samples, patch), how, confidence,
    )  # fmt: skip


def trace_outline(samples: Samples, patch: Index) -> Array | None:
    """The outer rim of a patch as a closed loop of its samples (k, 3), thinned; None where it has none.

    Counter-clockwise as seen from outside. The patch is laid on its plane and its samples joined by triangles; what
    bounds these is the rim.
    """
    if len(patch) < 3:
        return None
    points, normal = samples.points[patch], mean_normal(samples, patch)
    first = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
    first /= np.linalg.norm(first)
    flat = points @ np.column_stack([first, np.cross(normal, first)])
    try:
        triangles = np.asarray(Delaunay(flat).simplices, np.int64)
    except QhullError:
        return None
    corners = flat[triangles]
    sides = np.linalg.norm(corners - np.roll(corners, -1, axis=1), axis=2)
    kept = triangles[sides.max(axis=1) <= _LONGEST_LINK * samples.spacing]
    loops = _list_loops(_orient(flat, kept))
    if not loops:
        return None
    longest = max(loops, key=lambda loop: abs(_find_area(flat[loop])))
    rim: Array = points[longest[:: max(1, -(-len(longest) // _MOST_CORNERS))]]
    return rim if len(rim) >= 3 else None


def describe_surface(samples: Samples, patch: Index) -> FacetSurface | None:
    """The plainest of plane, cylinder and sphere that a patch lies on; None of too few samples to tell."""
    if len(patch) < _LEAST_POINTS:
        return None
    points, normal = samples.points[patch], mean_normal(samples, patch)
    q = points - points.mean(axis=0)
    height = np.linalg.svd(q, full_matrices=False)[2][2]
    best = FacetSurface("plane", None, root_mean_square(q @ height))
    even = _EVEN * samples.spacing
    sphere = fit_sphere(points, normal)
    rounds = [_fit_cylinder(q, normal)]
    if sphere is not None:
        rounds.append(FacetSurface("sphere", sphere.radius if sphere.convex else -sphere.radius, sphere.residual))
    for one in rounds:
        if one is not None and one.residual_m + even < _CLEARLY * (best.residual_m + even):
            best = one
    return best


def _fit_cylinder(q: Array, normal: Array) -> FacetSurface | None:
    """A cylinder along the lesser bend of a quadric, fitted as a circle to the points (n, 3) seen that way."""
    plane = np.linalg.svd(np.eye(3) - np.outer(normal, normal))[0][:, :2]
    u, v = (q @ plane).T
    terms = np.linalg.lstsq(np.column_stack([np.ones(len(q)), u, v, u * u, u * v, v * v]), q @ normal, rcond=None)[0]
    bends, directions = np.linalg.eigh([[2 * terms[3], terms[4]], [terms[4], 2 * terms[5]]])
    across = directions[:, int(np.abs(bends).argmax())]
    w = (q @ plane) @ across
    # A cylinder is a circle in its own section: |p|² = 2 c·p + (r² - |c|²) there.
    section = np.column_stack([w, q @ normal])
    scale = float(np.abs(section).max())
    if not scale > 0:
        return None
    A = np.column_stack([2 * section / scale, np.ones(len(q))])
    solution, _, rank, _ = np.linalg.lstsq(A, (section**2).sum(axis=1) / scale**2, rcond=1e-9)
    if rank < 3:
        return None
    centre = solution[:2] * scale
    radius = float(np.sqrt(max(solution[2] * scale**2 + centre @ centre, 0.0)))
    if not 0 < radius < 1e3 * scale:
        return None
    residual = root_mean_square(np.linalg.norm(section - centre, axis=1) - radius)
    return FacetSurface("cylinder", radius if centre[1] < 0 else -radius, residual)


def _orient(flat: Array, triangles: NDArray[np.int64]) -> NDArray[np.int64]:
    """All triangles counter-clockwise."""
    a, b, c = (flat[triangles[:, k]] for k in range(3))
    turned = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    ordered: NDArray[np.int64] = np.where((turned > 0)[:, None], triangles, triangles[:, ::-1])
    return ordered


def _list_loops(triangles: NDArray[np.int64]) -> list[list[int]]:
    """Closed loops of the directed sides that one triangle alone has."""
    sides = set(zip(triangles.ravel().tolist(), np.roll(triangles, -1, axis=1).ravel().tolist(), strict=True))
    onwards: dict[int, list[int]] = {}
    for a, b in sorted(sides):
        if (b, a) not in sides:
            onwards.setdefault(a, []).append(b)
    loops = []
    while onwards:
        start = at = next(iter(onwards))
        loop = []
        while at in onwards:
            loop.append(at)
            following = onwards[at].pop()
            if not onwards[at]:
                del onwards[at]
            at = following
            if at == start:
                loops.append(loop)
                break
    return loops


def _find_area(loop: Array) -> float:
    x, y = loop.T
    return float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) / 2
