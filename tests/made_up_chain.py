"""A made-up column of any length whose joints have limits and envelopes of their own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from core_calcs.mesh.solid import Solid
from core_calcs.skeleton.directions import list_directions
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.joint import AxisLimit, Envelope, Joint, Stop
from core_calcs.skeleton.tree import Skeleton, build_skeleton
from core_calcs.spatial.transforms import make_transform

LENGTH_M = 0.1
"""Of one element of the column."""
REASONS = ("bone contact", "facet overlap", "gap")


def make_element(name: str, series: str, position: int | None, side: str, centre: np.ndarray) -> Element:
    """A box's measures about a centre; its frame stands as the world's."""
    half = np.array([0.45, 0.3, 0.3]) * LENGTH_M
    volume = float(8 * half.prod())
    squares = half**2
    solid = Solid(volume, 0.0, np.zeros(3), np.diag(squares.sum() - squares) * volume / 3, -half, half, 12, ("closed",))
    source = Source(f"{name}.stl", None, 1.0, "0" * 64)
    return Element(name, series, position, side, "not known", source, solid, make_transform(np.eye(3), centre))


def make_limits(rng: np.random.Generator, widest_deg: tuple[float, float, float]) -> tuple[AxisLimit, ...]:
    """Six ends, each from a third of the widest up, with reasons and places."""
    ends = np.radians(rng.uniform(1 / 3, 1, (3, 2)) * np.array(widest_deg)[:, None]) * (-1, 1)
    stops = [[Stop(float(end), str(rng.choice(REASONS)), rng.normal(size=3)) for end in pair] for pair in ends]
    return tuple(AxisLimit(low, high) for low, high in stops)


def make_envelope(rng: np.random.Generator, limits: tuple[AxisLimit, ...]) -> Envelope:
    """Through the six ends, dented and bulging in between as three waves over the sphere have it."""
    directions = list_directions().directions
    shares = np.ones(len(directions))
    for _ in range(3):
        wave = rng.normal(size=3) * 2
        shares += 0.12 * np.sin(directions @ wave + rng.uniform(0, 2 * np.pi))
    shares[:6] = 1.0
    scale = np.array([[axis.low.angle_rad, axis.high.angle_rad] for axis in limits])
    return Envelope(scale, np.round(shares, 4))


def make_frame(along: np.ndarray, at: np.ndarray) -> np.ndarray:
    """A joint frame: y along, x to the animal's left or right as the column has it."""
    along = along / np.linalg.norm(along)
    across = np.array([0.0, 1.0, 0.0])
    return make_transform(np.stack([across, along, np.cross(across, along)], axis=1), at)


def make_column(count: int, seed: int = 1, widest_deg: tuple[float, float, float] = (12, 9, 5)) -> Skeleton:
    """A sacrum and a neck of `count` joints towards x, all with envelopes."""
    rng = np.random.default_rng(seed)
    elements = [make_element("sacrum", "sacral", None, "middle", np.zeros(3))]
    joints = []
    for i in range(count):
        name = f"cervical {count - i}"
        elements.append(make_element(name, "cervical", count - i, "middle", np.array([(i + 1) * LENGTH_M, 0, 0])))
        limits = make_limits(rng, widest_deg)
        X_WJ = make_frame(np.array([1.0, 0, 0]), np.array([(i + 0.5) * LENGTH_M, 0, 0]))
        own = Joint(
            elements[-2].name,
            name,
            "column",
            X_WJ,
            (1, 1, 1),
            limits,
            (),
            "found",
            "made up",
            None,  # type: ignore[arg-type]
        )
        joints.append(replace(own, envelope=make_envelope(rng, limits)))
    return build_skeleton("column", tuple(elements), tuple(joints))
