"""Mating: the rigid motion by which a loose element meets its neighbour, facet against facet, at the gaps wanted.

Nothing is asked of where the two stand: only their facets, each on its own element, the gaps and the middle planes.
First the middles of the facets and their normals are laid on each other (Kabsch, Acta Cryst. A32, 1976, 922); then the
motion is settled by least squares of what is wanted, each term divided by how far it may be off:

- the mean gap of every pair of facets is the one wanted; or a disc is as high at its ventral and dorsal rim as wanted;
- the two surfaces run side by side at that gap (distances to tangent planes: Chen & Medioni, Image and Vision
  Computing 10, 1992, 145-155), as far as a disc is no wedge;
- the middles of two facets lie over each other, as far as their rims are known: end plates are alike, while of
  zygapophyses one often reaches beyond the other;
- the two middle planes are one, as far as the elements are symmetric.

Lengths are shares of s, the size of the smaller of the two elements.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from ..mesh.samples import Samples
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, apply, make_transform
from .facets import Patch
from .midplanes import Midplane
from .partner import Partner
from .patches import mean_normal
from .rim_heights import Gap, RimGap, RimHeights

NOMINAL_GAP_S, _LOOSE_S = 0.05, 0.1
"""What a gap that nobody knows is taken for, and how far it may be off."""
_GAP_S = 0.003
"""How far a gap that is wanted may be off: there it is to be."""
_WEDGE_RAD = float(np.radians(10))
"""How far two facets may lean to each other: discs are wedges, sliding facets gape."""
_RIM_S = {"centrum": 0.03}
_LONGER_S, _SLID_S = 0.15, 0.3
"""How far the middles of two facets may lie aside of each other: of end plates; of others; of others whose gap is not
known, which have slid on each other where a disc is made thinner or thicker than the animal's."""
_MIRROR_RAD, _MIRROR_S, _ASYMMETRIC = float(np.radians(0.5)), 0.01, 2.0
"""How far middle planes may be off each other, turned and aside; and how often what the elements are off theirs."""
_BESIDE = 1.5
"""Samples that lie so many spacings beside the partner's facet count for a third."""
_LEAST_OVER = 10
_STEPS, _STILL = 20, 1e-5
_ALIKE_POINTS = 400

Pairs = Sequence[tuple[Patch, Patch]]
"""Of facets: first the one on the element that stands, then the one on the element to be moved."""
Term = tuple[Array, Array]
"""What one thing wanted makes of a small motion: (m, 6) by shift and turn, and (m,) how far it is off; both weighed."""


@dataclass(frozen=True, eq=False)
class Mated:
    """How a loose element is to be moved to meet the one that stands.

    D : (4, 4) rigid motion, in the world where the two were given
    gaps_m : the mean gap of each pair of facets after it [m]; heights_m : of one of which a wedge was wanted
    aside_m : how far each pair's middles then lie aside of each other, along the facets [m]
    leaning_rad : the angle between the facets' mean normals of each pair then
    """

    D: Array
    gaps_m: tuple[float, ...]
    aside_m: tuple[float, ...]
    leaning_rad: tuple[float, ...]
    heights_m: tuple[RimHeights | None, ...] = ()


def mate(
    pairs: Pairs,
    gaps_m: Sequence[Gap],
    midplanes: tuple[Midplane, Midplane] | None = None,
    start: Array | None = None,
) -> Mated:
    """The rigid motion that takes the second element to the first.

    Parameters
    ----------
    gaps_m : wanted, of each pair; None: not known, so that the other pairs decide; heights: of the end plates alone
    midplanes : of the two elements; None: they are left out
    start : (4, 4) a motion to begin with; None: the facets' middles and normals laid on each other

    Raises
    ------
    SkeletonError : no pair, or a single one and no middle planes: nothing tells how the two are turned; heights are
        wanted, and of neither element is it known where its back is
    """
    if not pairs or (len(pairs) == 1 and midplanes is None and start is None):
        name = pairs[0][1].element.name if pairs else "joint"
        what = "its facets do not tell how it is turned against its neighbour"
        raise SkeletonError(name, what, "mark its zygapophyses, left and right, as well")
    size = _size(pairs)
    wanted = [NOMINAL_GAP_S * size if gap is None else _take_mean(gap) for gap in gaps_m]
    if start is None:
        start = _lay_roughly(pairs, wanted, midplanes, size)
    tolerances = [(_LOOSE_S if gap is None else _GAP_S) * size for gap in gaps_m]
    facings = [
        _Facing(stand, move, gap, known is not None)
        for (stand, move), gap, known in zip(pairs, wanted, gaps_m, strict=True)
    ]
    rims = [
        _find_rim_gap(*pair, gap, midplanes, start) if isinstance(gap, RimHeights) else None
        for pair, gap in zip(pairs, gaps_m, strict=True)
    ]
    D = start
    for _ in range(_STEPS):
        centre = apply(D, pairs[0][1].element.centre[None])[0]
        terms = []
        for facing, rim, tolerance in zip(facings, rims, tolerances, strict=True):
            gap, beside = facing.want_gap(D, centre, tolerance)
            terms += [
                gap if rim is None else rim.want(D, centre, tolerance),
                beside,
                facing.want_middles(D, centre, size),
            ]
        if midplanes is not None:
            terms += _want_one_plane(*midplanes, D, centre, size)
        step = _solve(terms, size)
        R = Rotation.from_rotvec(step[3:]).as_matrix()
        D = make_transform(R, centre - R @ centre + step[:3]) @ D
        if max(np.linalg.norm(step[:3]) / size, np.linalg.norm(step[3:])) < _STILL:
            break
    gaps, aside, leaning = zip(*(facing.measure(D) for facing in facings), strict=True)
    return Mated(D, gaps, aside, leaning, tuple(None if rim is None else rim.measure(D) for rim in rims))


def _take_mean(gap: float | RimHeights) -> float:
    return gap.mean_m if isinstance(gap, RimHeights) else gap


def _find_rim_gap(
    stand: Patch, move: Patch, wanted: RimHeights, midplanes: tuple[Midplane, Midplane] | None, start: Array
) -> RimGap:
    """Two end plates whose heights are wanted; an element whose back nobody knows has it where its neighbour has it."""
    R = start[:3, :3]
    back, own = (plane.back for plane in midplanes) if midplanes is not None else (None, None)
    if back is None and own is not None:
        back = R @ own
    if own is None and back is not None:
        own = R.T @ back
    if back is None or own is None:
        what = "two heights are wanted of its disc, but nothing tells where its back is"
        raise SkeletonError(f"joint of {move.element.name}", what, "mark zygapophyses too, or give one figure")
    return RimGap(stand, move, back, own, wanted)


class _Facing:
    """Two facets that are to face each other, with what is asked again and again of them."""

    def __init__(self, stand: Patch, move: Patch, gap_m: float, known: bool) -> None:
        self.gap_m = gap_m
        self.aside_s = _RIM_S.get(stand.kind, _LONGER_S if known else _SLID_S)
        self.stand, self.move = stand.samples, move.samples
        self.middles = self.stand.points.mean(axis=0), self.move.points.mean(axis=0)
        self.normals = _normal(self.stand), _normal(self.move)
        self.trees = cKDTree(self.stand.points), cKDTree(self.move.points)
        spread = (self.move.points - self.middles[1]).var(axis=0).sum() / 2
        self.radius = float(np.sqrt(spread))

    def heights(self, D: Array) -> tuple[Array, Array, Array, Array]:
        """How much wider (n,) than wanted the gap is at samples of either facet, there (n, 3), the direction (n, 3) in
        which it opens for the facet that moves, and how much (n,) each counts: the less, the farther it lies beside
        the other facet, without a step.
        """
        R = D[:3, :3]
        points, normals = apply(D, self.move.points), self.move.normals @ R.T
        there = points + self.gap_m * normals
        nearest = np.asarray(self.trees[0].query(there)[1])
        off, out = there - self.stand.points[nearest], self.stand.normals[nearest]
        back = self.stand.points + self.gap_m * self.stand.normals
        own = np.asarray(self.trees[1].query((back - D[:3, 3]) @ R)[1])
        off_back, out_back = back - points[own], normals[own]
        high = np.concatenate([_dot(off, out), _dot(off_back, out_back)])
        aside = np.linalg.norm(np.concatenate([off, off_back]), axis=1) ** 2 - high**2
        counts = np.exp(-aside / (_BESIDE * max(self.stand.spacing, self.move.spacing)) ** 2)
        if counts.sum() < _LEAST_OVER:
            counts[:] = 1.0  # far off still: all of them draw
        places, opens = np.concatenate([points, points[own]]), np.concatenate([out, -out_back])
        return high, places, opens, counts / counts.sum()

    def want_gap(self, D: Array, centre: Array, tolerance_m: float) -> tuple[Term, Term]:
        """The mean gap, and that the two run side by side."""
        high, places, opens, counts = self.heights(D)
        by = np.column_stack([opens, np.cross(places - centre, opens)])
        mean_by, mean = counts @ by, float(counts @ high)
        leaning = np.sqrt(counts) / (_WEDGE_RAD * self.radius)
        gap = mean_by[None] / tolerance_m, np.array([mean / tolerance_m])
        return gap, ((by - mean_by) * leaning[:, None], (high - mean) * leaning)

    def want_middles(self, D: Array, centre: Array, size: float) -> Term:
        """The middles of the two facets over each other."""
        aside, across, place = self._aside(D)
        tolerance = self.aside_s * size
        by = np.column_stack([across, np.cross(place - centre, across)])
        return by / tolerance, aside / tolerance

    def measure(self, D: Array) -> tuple[float, float, float]:
        """Mean gap, how far the middles lie aside [m], and how the facets lean to each other [rad]."""
        leans = -float(self.normals[0] @ D[:3, :3] @ self.normals[1])
        aside = float(np.linalg.norm(self._aside(D)[0]))
        high, _, _, counts = self.heights(D)
        return self.gap_m + float(counts @ high), aside, float(np.arccos(np.clip(leans, -1, 1)))

    def _aside(self, D: Array) -> tuple[Array, Array, Array]:
        """How far (2,) the moved middle lies aside along two directions (2, 3) of the facets' plane, and it itself."""
        middle = apply(D, self.middles[1][None])[0]
        across = _span_plane(self.normals[0] - D[:3, :3] @ self.normals[1])
        return across @ (middle - self.middles[0]), across, middle


def _want_one_plane(stands: Midplane, moves: Midplane, D: Array, centre: Array, size: float) -> list[Term]:
    """That the second middle plane lies in the first."""
    off_s = _ASYMMETRIC * max(stands.off_m, moves.off_m) / size
    turned, shifted = max(_MIRROR_RAD, off_s), max(_MIRROR_S, off_s) * size
    moved = moves.move(D)
    normal = moved.normal if moved.normal @ stands.normal > 0 else -moved.normal
    across = _span_plane(stands.normal)
    turn = np.column_stack([np.zeros((2, 3)), np.cross(normal, across)])
    shift = np.concatenate([stands.normal, np.cross(moved.point - centre, stands.normal)])[None]
    aside = np.array([float((moved.point - stands.point) @ stands.normal)])
    return [(turn / turned, across @ normal / turned), (shift / shifted, aside / shifted)]


def _solve(terms: Sequence[Term], size: float) -> Array:
    """(6,) shift [m] and turn [rad] that bring all nearest to what is wanted."""
    by = np.concatenate([term[0] for term in terms]) * [size, size, size, 1, 1, 1]
    step = np.linalg.lstsq(by, -np.concatenate([term[1] for term in terms]), rcond=1e-9)[0]
    moved: Array = step * [size, size, size, 1, 1, 1]
    return moved


def _lay_roughly(
    pairs: Pairs, gaps_m: Sequence[float], midplanes: tuple[Midplane, Midplane] | None, size: float
) -> Array:
    """The motion that lays middles and normals of the facets on each other, and of a single one the middle planes."""
    landmarks = _list_landmarks(pairs, gaps_m, size)
    if midplanes is None or len(pairs) > 1:
        return _lay(*landmarks)
    stands, moves = midplanes
    tried = []
    for sense in (1,) if stands.sided and moves.sided else (1, -1):
        there = np.concatenate([landmarks[0], landmarks[0][:1] + size * stands.normal])
        here = np.concatenate([landmarks[1], landmarks[1][:1] + size * sense * moves.normal])
        tried.append(_lay(there, here, np.append(landmarks[2], 0.3)))
    # The plane does not tell back from belly: neighbours in a column are alike, which does.
    return min(tried, key=lambda D: measure_unlikeness(pairs[0][0].element, pairs[0][1].element, D))


def _list_landmarks(pairs: Pairs, gaps_m: Sequence[float], size: float) -> tuple[Array, Array, Array]:
    """Points (n, 3) of either element that are to lie on each other, and their weights (n,)."""
    there, here, weights = [], [], []
    for (stand, move), gap in zip(pairs, gaps_m, strict=True):
        out, into = _normal(stand.samples), -_normal(move.samples)
        middles = stand.points.mean(axis=0) + gap / 2 * out, move.points.mean(axis=0) - gap / 2 * into
        there += [middles[0], middles[0] + size * out]
        here += [middles[1], middles[1] + size * into]
        weight = 1.0 if stand.kind == "centrum" else 0.5
        weights += [weight, 0.3 * weight]
    return np.array(there), np.array(here), np.array(weights)


def _lay(there: Array, here: Array, weights: Array) -> Array:
    middle, own = np.average(there, axis=0, weights=weights), np.average(here, axis=0, weights=weights)
    R = Rotation.align_vectors(there - middle, here - own, weights=weights)[0].as_matrix()
    return make_transform(R, middle - R @ own)


def measure_unlikeness(stands: Partner, moves: Partner, D: Array) -> float:
    """How little two elements are alike when the second is turned by D and both are brought to one centre and size."""
    theirs = (stands.samples.points - stands.centre) / stands.size
    points = moves.samples.points[:: max(1, len(moves.samples.points) // _ALIKE_POINTS)]
    ours = (points - moves.centre) @ D[:3, :3].T / moves.size
    return float(np.mean(cKDTree(theirs).query(ours)[0]))


def _size(pairs: Pairs) -> float:
    return min(pairs[0][0].element.size, pairs[0][1].element.size)


def _normal(samples: Samples) -> Array:
    return mean_normal(samples, np.arange(len(samples.points)))


def _span_plane(normal: Array) -> Array:
    """(2, 3) unit directions at right angles to a direction."""
    unit = normal / max(float(np.linalg.norm(normal)), 1e-12)
    plane: Array = np.linalg.svd(np.eye(3) - np.outer(unit, unit))[0][:, :2].T
    return plane


def _dot(a: Array, b: Array) -> Array:
    product: Array = np.einsum("ij,ij->i", a, b)
    return product
