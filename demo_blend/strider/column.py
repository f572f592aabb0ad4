"""The quay strider's vertebral column: where every vertebra stands, and how each meets the next."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from .solids import Array
from .vertebra import JointShape, VertebraShape

NECK, BACK, TAIL = 10, 12, 44
LAST_FACETS, LAST_PROCESS = 30, 14
"""Caudal vertebrae beyond these have no zygapophyses, no transverse processes."""
HIP_HEIGHT = 2.4


@dataclass(frozen=True)
class Vertebra:
    """One of the column with its joints; `number` within its series, from the head on."""

    series: str
    number: int
    shape: VertebraShape
    head: JointShape | None
    tail: JointShape | None


def plan_column() -> list[Vertebra]:
    """From the first neck vertebra to the tip of the tail."""
    sizes = [*_neck(), *_back(), ("sacral", 1, 0.46, 0.17, 0.15, 0.24, 0.0, 0.030, 0.0), *_tail()]
    gaps = [0.06 * min(a[3], b[3]) for a, b in pairwise(sizes)]
    places = _lay_along(sizes, gaps)
    joints = [_join(a, b, X, gap) for a, b, X, gap in zip(sizes, sizes[1:], places[1], gaps, strict=False)]
    out = []
    for i, (series, number, length, breadth, height, spine, process, canal, _bend) in enumerate(sizes):
        shape = VertebraShape(places[0][i], length, breadth, height, spine, process, canal)
        out.append(
            Vertebra(series, number, shape, joints[i - 1] if i else None, joints[i] if i < len(joints) else None)
        )
    return out


Size = tuple[str, int, float, float, float, float, float, float, float]
"""Series, number, length, breadth, height, spine, process, canal [m], turn to the next towards the tail [rad]."""


def _neck() -> list[Size]:
    bends = np.radians([-9, -9, -8, -5, 0, 4, 7, 8, 8, 6])
    share = np.linspace(0, 1, NECK)
    return [
        (
            "cervical",
            i + 1,
            0.095 + 0.012 * t,
            0.115 + 0.035 * t,
            0.10 + 0.03 * t,
            0.05 + 0.07 * t,
            0.05,
            0.022,
            float(b),
        )
        for i, (t, b) in enumerate(zip(share, bends, strict=True))
    ]


def _back() -> list[Size]:
    share = np.linspace(0, 1, BACK)
    return [
        (
            "dorsal",
            i + 1,
            0.112 + 0.015 * t,
            0.145 + 0.015 * t,
            0.135 + 0.015 * t,
            0.16 + 0.08 * t,
            0.10,
            0.024,
            np.radians(1.2),
        )
        for i, t in enumerate(share)
    ]


def _tail() -> list[Size]:
    sizes: list[Size] = []
    for i in range(TAIL):
        t = i / (TAIL - 1)
        breadth = 0.150 * (1 - t) ** 1.1 + 0.022
        process = 0.10 * (1 - i / LAST_PROCESS) if i < LAST_PROCESS else 0.0
        length = 0.105 - 0.045 * t
        bend = np.radians(-0.6 if i < 8 else 0.25)
        sizes.append(
            ("caudal", i + 1, length, breadth, 0.95 * breadth, 0.16 * (1 - t) ** 1.6, process, 0.16 * breadth, bend)
        )
    return sizes


def _lay_along(sizes: list[Size], gaps: list[float]) -> tuple[list[Array], list[Array]]:
    """Places of the vertebrae and of the joints between them, the sacrum level above the hips."""
    X, places, joints = np.eye(4), [], []
    for i, size in enumerate(sizes):
        places.append(X)
        if i == len(gaps):
            break
        bend = size[8]
        J = _step(X, -(size[2] + gaps[i]) / 2, bend / 2)
        joints.append(J)
        X = _step(_step(J, 0.0, bend / 2), -(sizes[i + 1][2] + gaps[i]) / 2, 0.0)
    sacrum = next(i for i, size in enumerate(sizes) if size[0] == "sacral")
    to_hips = np.eye(4)
    to_hips[2, 3] = HIP_HEIGHT
    to_world = to_hips @ np.linalg.inv(places[sacrum])
    return [to_world @ X for X in places], [to_world @ X for X in joints]


def _step(X: Array, forwards: float, turn: float) -> Array:
    """Along x, then turned about y: positive lifts what comes towards the tail."""
    c, s = np.cos(turn), np.sin(turn)
    Y = np.array([[c, 0, s, forwards], [0, 1, 0, 0], [-s, 0, c, 0], [0, 0, 0, 1.0]])
    return X @ Y


def _join(a: Size, b: Size, X_WJ: Array, gap: float) -> JointShape:
    breadth, height, canal = min(a[3], b[3]), (a[4] + b[4]) / 2, (a[7] + b[7]) / 2
    round_end = 0.40 * breadth if a[0] == "cervical" else None
    if b[0] == "caudal" and b[1] > LAST_FACETS:
        return JointShape(X_WJ, gap, 0.0)
    tilt = {"cervical": 35, "dorsal": 25, "sacral": 45, "caudal": 55}[a[0]]
    across, up = 0.34 * breadth, height / 2 + 2.0 * canal
    return JointShape(X_WJ, gap, 0.03 * breadth, round_end, (across, up), 0.16 * breadth, float(np.radians(tilt)))
