"""Bones laid into each other's place, as a careful mount-maker would who has mixed them up; and bones made uneven.

What is drawn and how a bone is laid was written down before the first outcome was seen; so was the second draw, which
leaves out exchanges that change nothing, before it was drawn. Nothing here is shared with what looks for such bones.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import islice, pairwise

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from core_calcs.mesh.samples import sample_surface
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body

Array = np.ndarray
Places = dict[str, Array]
SEED = 20261128
"""Of the second draw. The first one's, 20261127, had two claws in it that are their own mirror images."""
UNCHANGED_S = 0.01
"""An exchange changes nothing where the two bones, laid onto each other, lie so close, root mean square, in sizes (cube
root of the volume) of the smaller. A scan is good to about .3 mm (common practice, no source), and an element of 30 mm
is among the smallest that are scanned one by one: what differs by less no scan would show. Small bones of the dog are
held to the same share, not to .3 mm, since they stand for the elements of a larger animal."""
A_KIND = 5
"""Swaps of each of the four kinds: twenty."""
LAID_DEG, LAID_M = 1.0, 0.5e-3
"""How far from the best fit a bone stands that was laid into another's place."""
HALVES = np.array([np.diag(turn) for turn in ((1, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1))], float)

ROWS = {
    "metacarpal": ("Metacarpale_II", "Metacarpale_III", "Metacarpale_IV", "Metacarpale_V_001"),
    "finger": tuple(f"Phalanxpmxinutlis_digiti_{ray}" for ray in ("II", "III", "IV", "V")),
    "metatarsal": tuple(f"Metatarsi_{ray}" for ray in (1, 2, 3, 4)),
    "toe": tuple(f"Phalanges_B_{ray}" for ray in (1, 2, 3, 4)),
}
"""Of the dog, from the inner ray on."""
RAYS = (
    *(tuple(f"{bone}_digiti_{ray}" for bone in ("Phalanxpmxinutlis", "Phalanx_media", "Phalanx_distalis"))
      for ray in ("II", "III", "IV", "V")),
    *((f"Phalanges_B_{ray}", f"Phalanges_B_2_{ray}", f"Phalanges_B_3_{ray}") for ray in (1, 2, 3, 4)),
)  # fmt: skip
SHORT = (
    ("Carpal", "Carpal_I", "Carpal_II", "Carpal_III", "Carpal_IV", "Carpal_accessory", "Carpal_ulnar"),
    ("Tibial_tarsal", "Calcaneal_tuber", "Tarsus_central", "Tarsus_I", "Tarsus_II", "Tarsus_III", "Tarsus_IV"),
)
FIRST_FINGER = ("Metacarpale_I", "Metacarpale_V", "Phalanx_distalis_digiti_I")
"""The second of them is its phalanx, by its place; the file's name says otherwise."""
LONG = ("Scapula", "Humerus", "Radius", "Ulna", "Femoris", "Tibia", "Fibula")
TOUCH_M, TIMES = 2e-3, 3.0
"""Two bones of wrist or ankle may be mixed up that lie so near each other, the larger of so many times the volume."""


@dataclass(frozen=True)
class Swap:
    """Two bones that stand in each other's place; kind: side, ray, phalanges, short."""

    kind: str
    one: str
    other: str


def list_swaps(surfaces: Mapping[str, Surface]) -> list[Swap]:
    """Every swap that may be drawn, of the bones of hands, feet, limbs and shoulder; none of those in tendons."""
    every = dict.fromkeys(name for names in (*ROWS.values(), *RAYS, *SHORT, FIRST_FINGER, LONG) for name in names)
    swaps = [Swap("side", f"{name}.L", f"{name}.R") for name in every]
    for side in "LR":
        for kind, groups in (("ray", ROWS.values()), ("phalanges", RAYS)):
            for group in groups:
                swaps += [Swap(kind, f"{a}.{side}", f"{b}.{side}") for a, b in pairwise(group)]
        for group in SHORT:
            names = [f"{name}.{side}" for name in group]
            swaps += [
                Swap("short", a, b)
                for i, a in enumerate(names)
                for b in names[i + 1 :]
                if _may_be_mixed_up(surfaces[a], surfaces[b])
            ]
    return swaps


def draw_swaps(surfaces: Mapping[str, Surface], seed: int = SEED, each: int = A_KIND) -> list[Swap]:
    """So many of every kind, none twice, none that changes nothing: the first in an order that the seed gives."""
    rng = np.random.default_rng(seed)
    swaps = list_swaps(surfaces)
    drawn = []
    for kind in ("side", "ray", "phalanges", "short"):
        own = [swap for swap in swaps if swap.kind == kind]
        shuffled = (own[i] for i in rng.permutation(len(own)))
        drawn += islice((swap for swap in shuffled if changes_something(surfaces, swap)), each)
    return drawn


def changes_something(surfaces: Mapping[str, Surface], swap: Swap) -> bool:
    """Whether one could see, of two bones in each other's place, that the other was there before."""
    one, other = surfaces[swap.one], surfaces[swap.other]
    size = float(np.cbrt(min(survey_body(surface)[1].volume_m3 for surface in (one, other))))
    return find_difference(one, other) >= UNCHANGED_S * size


def find_difference(one: Surface, other: Surface, points: int = 3000, fine: int = 30000, rounds: int = 20) -> float:
    """Root mean square distance of two surfaces, the one laid onto the other, both ways [m].

    Laid by points first, then by planes: what is left is not the points' own spacing.
    """
    X = lay_onto(one, other)
    few = [sample_surface(surface, np.inf, points, points) for surface in (one, other)]
    many = [sample_surface(surface, np.inf, fine, fine) for surface in (one, other)]
    trees = [cKDTree(samples.points) for samples in many]
    for number in range(rounds + 1):
        R, t = X[:3, :3], X[:3, 3]
        here, there = few[0].points @ R.T + t, (few[1].points - t) @ R
        near, back = trees[1].query(here)[1], trees[0].query(there)[1]
        here = np.vstack([here, many[0].points[back] @ R.T + t])
        planes = np.vstack([many[1].points[near], few[1].points])
        normals = np.vstack([many[1].normals[near], many[0].normals[back] @ R.T])
        away = np.einsum("ij,ij->i", planes - here, normals)
        if number < rounds:
            middle = here.mean(axis=0)
            rows = np.hstack([np.cross(here - middle, normals), normals])
            step = np.linalg.lstsq(rows, away, rcond=1e-6)[0]
            D = np.eye(4)
            D[:3, :3] = Rotation.from_rotvec(step[:3]).as_matrix()
            D[:3, 3] = middle - D[:3, :3] @ middle + step[3:]
            X = D @ X
    return float(np.sqrt((away**2).mean()))


def exchange(surfaces: Mapping[str, Surface], swap: Swap, rng: np.random.Generator) -> Places:
    """X_WE of the two: each laid onto the other's surface where that stands (as given), and jittered."""
    one, other = surfaces[swap.one], surfaces[swap.other]
    return {
        swap.one: jitter(one, lay_onto(one, other), LAID_DEG, LAID_M, rng),
        swap.other: jitter(other, lay_onto(other, one), LAID_DEG, LAID_M, rng),
    }


def jitter(surface: Surface, X_WE: Array, angle_deg: float, far_m: float, rng: np.random.Generator) -> Array:
    """Turned about its middle and moved by so much, in directions drawn."""
    middle = X_WE[:3, :3] @ survey_body(surface)[1].centre_m + X_WE[:3, 3]
    axis, way = (v / np.linalg.norm(v) for v in rng.normal(size=(2, 3)))
    R = Rotation.from_rotvec(np.radians(angle_deg) * axis).as_matrix()
    D = np.eye(4)
    D[:3, :3], D[:3, 3] = R, middle - R @ middle + far_m * way
    return D @ X_WE


def lay_onto(surface: Surface, other: Surface, points: int = 1500, rounds: int = 60) -> Array:
    """The rigid motion that brings a surface closest to another, by points both ways, from four starts.

    The starts lay the principal axes upon each other, every way that is no reflection.
    """
    here = sample_surface(surface, np.inf, points, points).points
    there = sample_surface(other, np.inf, points, points).points
    tree = cKDTree(there)
    found = []
    for half in HALVES:
        R = _find_axes(there) @ half @ _find_axes(here).T
        t = there.mean(axis=0) - R @ here.mean(axis=0)
        for _ in range(rounds):
            moved = here @ R.T + t
            near, back = tree.query(moved)[1], cKDTree(moved).query(there)[1]
            R, t = _fit(np.vstack([here, here[back]]), np.vstack([there[near], there]))
        moved = here @ R.T + t
        off = (tree.query(moved)[0] ** 2).mean() + (cKDTree(moved).query(there)[0] ** 2).mean()
        found.append((off, R, t))
    _, R, t = min(found, key=lambda one: one[0])
    X = np.eye(4)
    X[:3, :3], X[:3, 3] = R, t
    return X


def disturb(surface: Surface, share: float, rng: np.random.Generator, scale: float = 1.0) -> Surface:
    """A bone made uneven by long swells of `share` of its size (root mean square) and scaled about its middle."""
    solid = survey_body(surface)[1]
    size = float(np.cbrt(solid.volume_m3))
    offset = surface.vertices - solid.centre_m
    swell = np.zeros_like(offset)
    for _ in range(12):
        way, wave = rng.normal(size=3), rng.normal(size=3)
        wave *= 2 * np.pi / (rng.uniform(1.0, 3.0) * size * np.linalg.norm(wave))
        swell += way * np.sin(offset @ wave + rng.uniform(0, 2 * np.pi))[:, None]
    swell *= share * size / np.sqrt((swell**2).sum(axis=1).mean())
    return Surface(solid.centre_m + scale * offset + swell, surface.faces)


def _may_be_mixed_up(one: Surface, other: Surface) -> bool:
    points = [sample_surface(surface, np.inf, 3000, 3000).points for surface in (one, other)]
    volumes = sorted(survey_body(surface)[1].volume_m3 for surface in (one, other))
    near = cKDTree(points[0]).query(points[1])[0].min() < TOUCH_M
    return bool(near and volumes[1] < TIMES * volumes[0])


def _find_axes(points: Array) -> Array:
    """Principal axes as columns, right-handed, the longest last."""
    axes = np.linalg.eigh(np.cov(points.T))[1]
    axes[:, 0] *= np.sign(np.linalg.det(axes))
    return axes


def _fit(here: Array, there: Array) -> tuple[Array, Array]:
    """Rotation and move that bring points (n, 3) closest to their partners (Kabsch)."""
    a, b = here.mean(axis=0), there.mean(axis=0)
    U, _, Vt = np.linalg.svd((there - b).T @ (here - a))
    R = U @ np.diag([1, 1, np.sign(np.linalg.det(U @ Vt))]) @ Vt
    return R, b - R @ a
