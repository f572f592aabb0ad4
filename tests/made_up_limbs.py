"""Pairs of made-up bones whose joint is known: balls in sockets, hinges, paired condyles, saddles; no unit is meant.

Each pair stands upright in its own frame (the child above the parent, the joint's centre at the origin, a hinge's axis
along y) and is then turned and moved as a whole. The bones are blocks and rods cut by the joint's surfaces, roughened.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "demo_blend"))
from strider.solids import ball, block, cut, join, keep, make_mesh, rod, roughen

from core_calcs.articulation.partner import Partner, prepare_partner
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body

Array = np.ndarray
GAP = 0.06
"""Between the bones, where the radius is 1."""


@dataclass(frozen=True)
class Pair:
    """Two bones; centre (3,), and the axes (k, 3) with a place (3,) each that the joint was made with."""

    parent: Partner
    child: Partner
    centre: Array
    axes: Array
    places: Array


def turned_rod(height_of, half_width, low=-np.inf, high=np.inf):
    """A body of revolution about y: its radius is a function of the place along y, cut off at the half width."""

    def distance(p):
        away = np.hypot(p[:, 0], p[:, 2])
        return np.maximum(0.9 * (away - height_of(p[:, 1])), np.abs(p[:, 1]) - half_width)

    return distance


def ring(centre, big, small):
    """A ring about y: its tube's middle runs at `big` from the axis."""

    def distance(p):
        q = p - centre
        return np.hypot(np.hypot(q[:, 0], q[:, 2]) - big, q[:, 1]) - small

    return distance


def ball_and_socket(deep=0.75):
    """A ball of radius 1 on the child, the socket in the parent, `deep` of the ball's radius high."""
    head = join(ball((0, 0, 0), 1.0), rod((0, 0, 0), (0.3, 0.4, 3.5), 0.55), blend=0.2)
    socket = cut(block((0, 0, -1.3), (1.5, 1.4, 1.3), rounding=0.2), ball((0, 0, 0), 1 + GAP))
    return keep(socket, lambda p: p[:, 2] + 1 - deep), head, np.zeros((0, 3)), np.zeros((0, 3))


def egg(radii):
    """An ellipsoid about the origin; the distance is true at the surface alone."""
    radii = np.array(radii)

    def distance(p):
        scaled = np.linalg.norm(p / radii, axis=1)
        return scaled * (scaled - 1) / np.maximum(np.linalg.norm(p / radii**2, axis=1), 1e-12)

    return distance


def egg_and_dish(radii=(0.86, 1.1, 1.0), deep=0.35):
    """A head that is neither ball nor roller, as those of metacarpals are, on the child, in a shallow dish."""
    head = join(egg(radii), rod((0, 0, 0), (0, 0, 3.5), 0.55), blend=0.2)
    dish = cut(block((0, 0, -1.3), (1.5, 1.4, 1.3), rounding=0.2), egg(np.array(radii) + GAP))
    return keep(dish, lambda p: p[:, 2] + 1 - deep), head, np.zeros((0, 3)), np.zeros((0, 3))


def _hinge(radius_of, half_width):
    """A roller on the parent, a block with its hollow on the child; the axis along y."""
    roller = join(turned_rod(radius_of, half_width), rod((0, 0, -0.4), (0, 0, -4), 0.55), blend=0.2)
    hollow = cut(
        join(block((0.2, 0, 1.3), (0.95, half_width * 0.95, 0.9), rounding=0.15), rod((0.2, 0, 2), (0.2, 0, 4.5), 0.5)),
        turned_rod(lambda y: radius_of(y) + GAP, 3 * half_width),
    )
    return roller, hollow, np.array([[0, 1.0, 0]]), np.zeros((1, 3))


def cylinder_hinge():
    return _hinge(lambda y: 1.0 + 0 * y, 0.8)


def pulley_hinge():
    """Grooved, as a trochlea is."""
    return _hinge(lambda y: 1.0 - 0.18 * np.cos(np.pi * y / 0.85), 0.85)


def paired_condyles():
    """Two vaulted condyles on one axis on the parent, a plateau with two shallow dishes on the child."""

    def radius_of(y):
        return 0.45 + 0.55 * np.sqrt(np.maximum(1 - ((np.abs(y) - 0.75) / 0.62) ** 2, 0))

    roller = join(turned_rod(radius_of, 1.3), rod((0, 0, -0.3), (0, 0, -4), 0.6), blend=0.2)
    dishes = cut(block((0, 0, 1.75), (1.1, 1.35, 1.05), rounding=0.15), turned_rod(lambda y: radius_of(y) + GAP, 5))
    child = join(dishes, rod((0, 0, 2), (0, 0, 5), 0.6))
    return roller, child, np.array([[0, 1.0, 0]]), np.zeros((1, 3))


def saddle(big=2.2, small=1.0):
    """The ring about y through (0, 0, -(big - small)): bent downwards along x, upwards along y."""
    centre = np.array([0, 0, -(big - small)])
    tool = ring(centre, big, small)
    parent = keep(block((0, 0, -1.2), (0.9, 0.75, 1.6), rounding=0.1), lambda p: -tool(p) + 0.0)
    child = keep(block((0, 0, 1.2), (0.9, 0.75, 1.6), rounding=0.1), lambda p: ring(centre, big, small - GAP)(p))
    axes = np.array([[0, 1.0, 0], [1.0, 0, 0]])
    return parent, child, axes, np.array([centre, [0, 0, small]])


MADE = {
    "ball": ball_and_socket,
    "cylinder": cylinder_hinge,
    "pulley": pulley_hinge,
    "condyles": paired_condyles,
    "saddle": saddle,
    "egg": egg_and_dish,
}


def make_pair(kind: str, seed: int, roughness: float = 0.004, cell: float = 0.07, turned: bool = True) -> Pair:
    """A pair of bones, uneven by `roughness` (height, the radius being 1), turned and moved at random by the seed."""
    rng = np.random.default_rng([seed, sorted(MADE).index(kind)])
    parent, child, axes, places = MADE[kind]()
    R, t = np.eye(3), np.zeros(3)
    if turned:
        R = np.linalg.qr(rng.normal(size=(3, 3)))[0]
        R, t = R * np.sign(np.linalg.det(R)), rng.normal(size=3)
    made = []
    for name, solid, at in (("parent", parent, -1.6), ("child", child, 1.9)):
        mesh = make_mesh(roughen(solid, 3.0, roughness, rng), (0, 0, at), 3.6, cell)
        surface, told = survey_body(Surface(mesh[0] @ R.T + t, mesh[1]))
        made.append(prepare_partner(name, surface, told.volume_m3, told.centre_m))
    return Pair(made[0], made[1], t, axes @ R.T, places @ R.T + t)


def make_flat_pair(gap: float = GAP) -> Pair:
    """Two blocks with flat faces `gap` apart: nothing tells about what they would turn."""
    made = []
    for name, at in (("parent", -1.0 - gap / 2), ("child", 1.0 + gap / 2)):
        surface, told = survey_body(
            Surface(*make_mesh(block((0, 0, at), (1, 0.8, 1), rounding=0.1), (0, 0, at), 1.6, 0.06))
        )
        made.append(prepare_partner(name, surface, told.volume_m3, told.centre_m))
    return Pair(made[0], made[1], np.zeros(3), np.zeros((0, 3)), np.zeros((0, 3)))


def make_half_roller() -> Pair:
    """Half a roller of radius 1 about y, round on top, and above it a shell that reaches 30° to either side."""
    roller = keep(turned_rod(lambda y: 1.0 + 0 * y, 0.8), lambda p: -p[:, 2])
    shell = keep(
        turned_rod(lambda y: 1.4 + 0 * y, 0.7),
        lambda p: 1 + GAP - np.hypot(p[:, 0], p[:, 2]),
        lambda p: np.abs(p[:, 0]) - np.tan(np.radians(30)) * p[:, 2],
    )
    made = []
    for name, solid, at in (("parent", roller, 0.5), ("child", shell, 1.2)):
        surface, told = survey_body(Surface(*make_mesh(solid, (0, 0, at), 1.6, 0.04)))
        made.append(prepare_partner(name, surface, told.volume_m3, told.centre_m))
    return Pair(made[0], made[1], np.zeros(3), np.array([[0, 1.0, 0]]), np.zeros((1, 3)))


def mirror_pair(pair: Pair) -> Pair:
    """The same on the other side of the plane y = 0."""
    M = np.diag([1.0, -1.0, 1.0])
    mirrored = []
    for bone in (pair.parent, pair.child):
        values = bone.grid.values[:, ::-1, :]
        lower = bone.grid.lower.copy()
        lower[1] = -(bone.grid.lower[1] + bone.grid.cell * (values.shape[1] - 1))
        samples = replace(bone.samples, points=bone.samples.points @ M, normals=bone.samples.normals @ M)
        grid = replace(bone.grid, values=np.ascontiguousarray(values), lower=lower)
        mirrored.append(replace(bone, centre=bone.centre @ M, samples=samples, grid=grid, crests=bone.crests @ M))
    return Pair(mirrored[0], mirrored[1], pair.centre @ M, pair.axes @ M, pair.places @ M)


def turn_pair(pair: Pair, R: Array) -> Pair:
    """The same turned by a rotation whose entries are 0, 1 and -1."""
    turned = []
    for bone in (pair.parent, pair.child):
        values, lower, cell = bone.grid.values, bone.grid.lower, bone.grid.cell
        upper = lower + cell * (np.array(values.shape) - 1)
        signs = np.diag(R)
        assert np.array_equal(R, np.diag(signs)), "half turns about the axes alone"
        flips = tuple(slice(None, None, int(sign)) for sign in signs)
        grid = replace(bone.grid, values=np.ascontiguousarray(values[flips]), lower=np.where(signs > 0, lower, -upper))
        samples = replace(bone.samples, points=bone.samples.points @ R.T, normals=bone.samples.normals @ R.T)
        turned.append(replace(bone, centre=bone.centre @ R.T, samples=samples, grid=grid, crests=bone.crests @ R.T))
    return Pair(turned[0], turned[1], pair.centre @ R.T, pair.axes @ R.T, pair.places @ R.T)


def make_meshes(kind: str) -> dict[str, tuple[Array, Array]]:
    """Vertices and triangles of an upright pair by name: "upper arm", the parent, and "forearm"."""
    parent, child, _, _ = MADE[kind]()
    return {
        name: make_mesh(solid, (0, 0, at), 3.6, 0.07)
        for name, solid, at in (("upper arm", parent, -1.6), ("forearm", child, 1.9))
    }
