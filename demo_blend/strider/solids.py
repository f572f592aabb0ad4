"""Solids as signed distances (negative inside): simple shapes, blended, roughened, and turned into a closed mesh.

A solid is a function from points (n, 3) to distances (n,), in metres. Blends and scaled shapes make the distance
approximate away from the surface; only its zero is used.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.ndimage import maximum_filter
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from skimage.measure import marching_cubes

_BAND = 6.0
"""Cells from the surface within which every point of the grid is asked; every second one is asked everywhere."""

Array = np.ndarray
Solid = Callable[[Array], Array]


def ball(centre: Array, radius: float) -> Solid:
    return lambda p: np.linalg.norm(p - centre, axis=1) - radius


def ellipsoid(centre: Array, half: Array, turn: Array | None = None) -> Solid:
    """Half-axes (3,) along the columns of `turn`."""
    axes, half = np.eye(3) if turn is None else turn, np.asarray(half, float)

    def distance(p: Array) -> Array:
        q = (p - centre) @ axes
        k0, k1 = np.linalg.norm(q / half, axis=1), np.linalg.norm(q / half**2, axis=1)
        return k0 * (k0 - 1) / np.maximum(k1, 1e-9)

    return distance


def rod(start: Array, end: Array, radius: float, end_radius: float | None = None, flat: Array | None = None) -> Solid:
    """A round rod whose radius runs from one to the other; `flat` (3,) squeezes it that way, by its length."""
    start, along = np.asarray(start, float), np.asarray(end, float) - start
    last = radius if end_radius is None else end_radius

    def distance(p: Array) -> Array:
        q = p - start
        t = np.clip(q @ along / (along @ along), 0, 1)
        off = q - t[:, None] * along
        if flat is not None:
            unit = flat / np.linalg.norm(flat)
            off = off + np.outer(off @ unit, unit) * (np.linalg.norm(flat) - 1)
        return np.linalg.norm(off, axis=1) - (radius + (last - radius) * t)

    return distance


def block(centre: Array, half: Array, turn: Array | None = None, rounding: float = 0.0) -> Solid:
    """A box of half-edges (3,) along the columns of `turn`, its edges rounded."""
    axes, half = np.eye(3) if turn is None else turn, np.asarray(half, float) - rounding

    def distance(p: Array) -> Array:
        q = np.abs((p - centre) @ axes) - half
        return np.linalg.norm(np.maximum(q, 0), axis=1) + np.minimum(q.max(axis=1), 0) - rounding

    return distance


def disc(centre: Array, normal: Array, radius: float, depth: float) -> Solid:
    """A flat disc whose face looks along the normal at the centre; it lies behind that face."""
    middle = np.asarray(centre) - np.asarray(normal) * depth / 2

    def distance(p: Array) -> Array:
        q = p - middle
        along = q @ normal
        out = np.linalg.norm(q - np.outer(along, normal), axis=1) - radius
        deep = np.abs(along) - depth / 2
        return np.maximum(out, deep)

    return distance


def halfspace(point: Array, normal: Array) -> Solid:
    """What lies behind a plane: the normal points out of it."""
    return lambda p: (p - point) @ normal


def join(*solids: Solid, blend: float = 0.0) -> Solid:
    """All of them, their seams filled over a width of about `blend` [m]."""

    def distance(p: Array) -> Array:
        found = solids[0](p)
        for solid in solids[1:]:
            other = solid(p)
            if blend > 0:
                overlap = np.maximum(blend - np.abs(found - other), 0) / blend
                found = np.minimum(found, other) - overlap**2 * blend / 4
            else:
                found = np.minimum(found, other)
        return found

    return distance


def cut(solid: Solid, *tools: Solid) -> Solid:
    """A solid without the others."""
    return lambda p: np.maximum.reduce([solid(p), *(-tool(p) for tool in tools)])


def keep(solid: Solid, *bounds: Solid) -> Solid:
    """What lies inside all of the bounds as well."""
    return lambda p: np.maximum.reduce([solid(p), *(bound(p) for bound in bounds)])


def trim(solid: Solid, bound: Solid, rounding: float) -> Solid:
    """What lies inside the bound as well, the edge between the two rounded over a width of about so much [m]."""
    joined = join(lambda p: -solid(p), lambda p: -bound(p), blend=rounding)
    return lambda p: -joined(p)


def carve(solid: Solid, tool: Solid, rounding: float) -> Solid:
    """A solid without another, the edge between the two rounded over a width of about so much [m]."""
    return trim(solid, lambda p: -tool(p), rounding)


def mirror(solid: Solid) -> Solid:
    """Its image on the other side of the plane y = 0."""
    return lambda p: solid(p * (1, -1, 1))


def move(solid: Solid, X: Array) -> Solid:
    """A solid given in its own frame, in the frame that X (4, 4) takes it to."""
    return lambda p: solid((p - X[:3, 3]) @ X[:3, :3])


def roughen(
    solid: Solid, size: float, height: float, rng: np.random.Generator, lengths: tuple[float, float] = (0.1, 0.35)
) -> Solid:
    """Swellings and hollows of a bone's own: waves of such lengths by its size, together about `height`."""
    waves = rng.normal(size=(9, 3))
    waves *= (2 * np.pi / (size * rng.uniform(*lengths, 9)) / np.linalg.norm(waves, axis=1))[:, None]
    phase = rng.uniform(0, 2 * np.pi, 9)
    return lambda p: solid(p) + height / 3 * np.sin(p @ waves.T + phase).sum(axis=1) / 1.5


def make_mesh(solid: Solid, centre: Array, reach: float, cell: float, true: bool = False) -> tuple[Array, Array]:
    """Vertices (n, 3) and triangles (m, 3), turning outwards, of the largest piece of a solid.

    centre, reach : a cube that holds it, half an edge long [m]; cell : side of the grid's cells [m]
    true : its distances far from the surface are never much too great, so that most of the grid need not be asked

    Raises
    ------
    ValueError : the solid reaches the cube's sides: the mesh would be open
    """
    low, high = _bound(solid, np.asarray(centre) - reach, np.asarray(centre) + reach, 4 * cell)
    axes = [np.arange(low[k], high[k] + cell, cell) for k in range(3)]
    field = _evaluate_near(solid, axes, _BAND * cell) if true else _evaluate(solid, axes)
    for k in range(3):
        if (np.take(field, (0, -1), axis=k) <= 0).any():
            raise ValueError("the solid reaches the side of its box")
    vertices, faces, _, _ = marching_cubes(field, 0.0, spacing=(cell,) * 3, gradient_direction="descent")
    return _keep_largest(vertices.astype(float) + low, faces.astype(np.int64))


def _evaluate(solid: Solid, axes: list[Array]) -> Array:
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    return solid(grid).reshape([len(axis) for axis in axes])


def _evaluate_near(solid: Solid, axes: list[Array], band: float) -> Array:
    """The same near the surface; elsewhere the distance of a grid point next to it, which has the same sign."""
    coarse = _evaluate(solid, [axis[::2] for axis in axes])
    near, field = maximum_filter(np.abs(coarse) < band, 3), coarse
    for k, axis in enumerate(axes):
        near, field = (np.repeat(values, 2, axis=k).take(range(len(axis)), axis=k) for values in (near, field))
    where = np.nonzero(near)
    field[where] = solid(np.column_stack([axis[index] for axis, index in zip(axes, where, strict=True)]))
    return field


def _bound(solid: Solid, low: Array, high: Array, step: float) -> tuple[Array, Array]:
    """The box of the grid points near or in the solid, one step wider."""
    axes = [np.arange(low[k], high[k] + step, step) for k in range(3)]
    near = np.argwhere(_evaluate(solid, axes) < 2 * step)
    first = np.array([axes[k][near[:, k].min()] for k in range(3)])
    last = np.array([axes[k][near[:, k].max()] for k in range(3)])
    return first - step, last + step


def _keep_largest(vertices: Array, faces: Array) -> tuple[Array, Array]:
    """Without the crumbs that a cut leaves."""
    links = np.concatenate([faces[:, :2], faces[:, 1:]])
    graph = coo_matrix((np.ones(len(links)), links.T), shape=(len(vertices),) * 2)
    label = connected_components(graph, directed=False)[1]
    kept = label == np.bincount(label).argmax()
    number = np.cumsum(kept) - 1
    return vertices[kept], number[faces[kept[faces[:, 0]]]]
