"""A ball on a neck in a socket, and a tongue in a groove: joints whose bones overlap by as much as one likes."""

from __future__ import annotations

import numpy as np
import trimesh

RIM_RAD = float(np.radians(80))
"""The socket's opening, from the middle of the ball to its rim and the axis."""
BALL, GAP, NECK, LENGTH, WALL = 0.36, 0.01, 0.13, 1.4, 0.15


def make_ball(radius: float = BALL) -> trimesh.Trimesh:
    """A ball about the origin on a neck along z."""
    neck = np.arcsin(NECK / radius)
    return _revolve([*_arc(radius, np.pi, neck, 80), (NECK, LENGTH), (0.0, LENGTH)])


def make_socket(radius: float = BALL + GAP) -> trimesh.Trimesh:
    """Hollow about the origin, open towards z."""
    return _revolve([*_arc(radius, np.pi, RIM_RAD, 60), *_arc(radius + WALL, RIM_RAD, np.pi, 80)])


def reach_rad(radius: float = BALL + GAP) -> float:
    """How far the ball turns until its neck meets the rim of a socket of that radius."""
    return RIM_RAD - float(np.arcsin(NECK / radius))


def make_tongue() -> trimesh.Trimesh:
    """A blade along x from the origin to 1, .2 wide along y, that ends at z = 0; a block above it."""
    blade = trimesh.creation.box((1.0, 0.2, 0.4))
    blade.apply_translation((0.0, 0.0, 0.2))
    block = trimesh.creation.box((1.0, 0.8, 0.4))
    block.apply_translation((0.0, 0.0, 0.7))
    return _even(trimesh.util.concatenate([blade, block]))


def make_groove(play: float) -> trimesh.Trimesh:
    """Two walls on a floor that the tongue stands on, with so much play to either side of it."""
    floor = trimesh.creation.box((1.4, 1.0, 0.2))
    floor.apply_translation((0.0, 0.0, -0.1))
    walls = []
    for side in (1, -1):
        wall = trimesh.creation.box((1.4, 0.3, 0.4))
        wall.apply_translation((0.0, side * (0.1 + play + 0.15), 0.1))
        walls.append(wall)
    return _even(trimesh.util.concatenate([floor, *walls]))


def _even(mesh: trimesh.Trimesh) -> trimesh.Trimesh:
    return mesh.subdivide().subdivide()


def _arc(radius: float, start: float, end: float, count: int) -> list[tuple[float, float]]:
    """Places (away from the axis, along it) from one angle with the axis to another."""
    return [(radius * np.sin(angle), radius * np.cos(angle)) for angle in np.linspace(start, end, count)]


def _revolve(line: list[tuple[float, float]]) -> trimesh.Trimesh:
    outline = np.array(line)
    outline[[0, -1], 0] = 0.0
    mesh = trimesh.creation.revolve(outline[::-1], sections=128)
    mesh.merge_vertices()
    if mesh.volume < 0:
        mesh.invert()
    return mesh
