"""Facets of known shape as points and normals: caps, bodies of revolution, a ring's inner side; the radius is 1."""

from __future__ import annotations

import numpy as np

from core_calcs.articulation.slippage import find_bends, measure_slippage

Z = np.array([0.0, 0, 1])


def spread(count):
    """Evenly spread pairs of numbers between -.5 and .5."""
    k = np.arange(count)
    return np.mod(np.outer(k, (0.7548776662466927, 0.5698402909980532)), 1).T - 0.5


def cap(half_deg, count=1500):
    u, v = spread(count)
    height = 1 - (u + 0.5) * (1 - np.cos(np.radians(half_deg)))
    flat = np.sqrt(1 - height**2)
    normals = np.column_stack([flat * np.cos(2 * np.pi * v), flat * np.sin(2 * np.pi * v), height])
    return normals.copy(), normals


def turned(radius_of, rise_of, arc_deg, width, count=1500):
    u, v = spread(count)
    angle, height = u * np.radians(arc_deg), v * width
    out = np.column_stack([np.cos(angle), np.sin(angle), 0 * angle])
    normals = out - np.outer(rise_of(height), Z)
    return out * radius_of(height)[:, None] + np.outer(height, Z), normals / np.linalg.norm(normals, axis=1)[:, None]


def ring_inside(big, arc_deg, bend_deg, count=1500):
    """The inner side of a ring about z; the tube's radius is 1, its middle runs at `big`."""
    u, v = spread(count)
    angle, bend = u * np.radians(arc_deg), v * np.radians(bend_deg)
    out = np.column_stack([np.cos(angle), np.sin(angle), 0 * angle])
    inwards = -(out * np.cos(bend)[:, None] - np.outer(np.sin(bend), Z))
    return out * big + inwards, inwards


HINGES = {
    "cylinder": (lambda h: 1 + 0 * h, lambda h: 0 * h, 120, 1.0),
    "wide cylinder": (lambda h: 1 + 0 * h, lambda h: 0 * h, 180, 2.0),
    "barrel": (lambda h: 1 - 0.2 * h**2, lambda h: -0.4 * h, 170, 1.6),
    "pulley": (
        lambda h: 1 - 0.12 * np.cos(2 * np.pi * h / 1.6),
        lambda h: 0.12 * 2 * np.pi / 1.6 * np.sin(2 * np.pi * h / 1.6),
        160,
        1.6,
    ),
}


def starts(points, normals):
    return (*measure_slippage(points, normals).turnings[:2], *find_bends(points, normals))


def degrees_between(first, second):
    return np.degrees(np.arccos(min(1.0, abs(float(first @ second)))))


def off_axis(point, place_on_axis, axis):
    apart = point - place_on_axis
    return np.linalg.norm(apart - axis * (axis @ apart))
