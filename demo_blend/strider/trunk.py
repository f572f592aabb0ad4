"""Skull, jaw, ribs, breastbone, belly ribs and chevrons of the quay strider."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from .bones import BY_HAND, SIDES, UNJOINTED, Bone, make_bone, offset
from .column import Vertebra
from .solids import ball, cut, ellipsoid, join, rod

CHEVRONS, BELLY_RIBS = 30, 16


def plan_head(column: list[Vertebra]) -> list[Bone]:
    """Skull, jaw and tongue bones."""
    first = column[0].shape
    neck = first.X_WV[:3, 3] + first.X_WV[:3, 0] * first.length * 0.75
    at = lambda x, y, z: neck + np.array([x, y, z])  # noqa: E731
    case = ellipsoid(at(0.20, 0, 0.05), (0.23, 0.17, 0.17))
    snout = rod(at(0.25, 0, 0.03), at(0.78, 0, -0.06), 0.155, 0.085, np.array([0, 1.25, 0]))
    cheeks = [rod(at(0.08, y * 0.155, -0.04), at(0.66, y * 0.06, -0.10), 0.05, 0.04) for y in (1, -1)]
    brow = [rod(at(0.18, y * 0.13, 0.16), at(0.46, y * 0.10, 0.12), 0.045, 0.03) for y in (1, -1)]
    holes = [ball(at(0.31, y * 0.20, 0.055), 0.085) for y in (1, -1)]
    holes += [ellipsoid(at(0.53, y * 0.16, 0.0), (0.10, 0.075, 0.055)) for y in (1, -1)]
    holes += [ellipsoid(at(0.76, y * 0.075, -0.02), (0.05, 0.035, 0.03)) for y in (1, -1)]
    holes += [ellipsoid(at(0.10, y * 0.17, 0.06), (0.07, 0.06, 0.07)) for y in (1, -1)]
    teeth = [
        rod(
            at(x, y * (0.13 - 0.09 * (x - 0.3)), -0.12),
            at(x - 0.01, y * (0.13 - 0.09 * (x - 0.3)), -0.19),
            0.018,
            0.004,
        )
        for x in np.linspace(0.40, 0.80, 8)
        for y in (1, -1)
    ]
    knob = ball(at(0.0, 0, 0.0), 0.045)
    skull = join(cut(join(case, snout, *cheeks, *brow, knob, blend=0.05), *holes), *teeth, blend=0.008)
    hinge = 0.06
    halves = [
        rod(at(hinge, y * 0.15, -0.13), at(0.80, y * 0.035, -0.27), 0.052, 0.035, np.array([0, 1.6, 0]))
        for y in (1, -1)
    ]
    lower = [
        rod(
            at(x, y * (0.115 - 0.10 * (x - 0.35)), -0.20 - 0.08 * (x - 0.35)),
            at(x, y * (0.115 - 0.10 * (x - 0.35)), -0.15 - 0.09 * (x - 0.35)),
            0.015,
            0.004,
        )
        for x in np.linspace(0.38, 0.76, 7)
        for y in (1, -1)
    ]
    chin = rod(at(0.79, 0.05, -0.265), at(0.79, -0.05, -0.265), 0.036)
    jaw = join(*halves, chin, *lower, blend=0.02)
    top = [at(0, 0, 0), at(0.9, 0.2, -0.2), at(0, -0.2, 0.23)]
    return [
        make_bone("skull", "skull", "middle", "cervical 1", BY_HAND, skull, top, 0.06),
        *(
            make_bone(
                f"tongue bone {word}",
                "skull",
                word,
                "jaw",
                UNJOINTED,
                rod(at(0.12, y * 0.06, -0.24), at(0.42, y * 0.05, -0.25), 0.010, 0.012),
                [at(0.12, y * 0.06, -0.24), at(0.42, y * 0.05, -0.25)],
                0.03,
            )
            for y, word in SIDES
        ),
        make_bone(
            "jaw",
            "skull",
            "middle",
            "skull",
            "cast as one with the skull",
            jaw,
            [at(hinge, 0, -0.12), at(0.86, 0.2, -0.34), at(0, -0.2, -0.05)],
            0.05,
        ),
    ]


def plan_trunk(column: list[Vertebra]) -> list[Bone]:
    """Ribs, breastbone, wishbone and belly ribs."""
    bones = []
    for vertebra in (v for v in column if v.series == "dorsal"):
        X, s, n = vertebra.shape.X_WV, vertebra.shape, vertebra.number
        deep = 0.62 * np.sin(np.pi * min(1.0, (n + 2.2) / 12.5)) + 0.12
        wide = 0.30 * np.sin(np.pi * min(0.95, (n + 2.5) / 14)) + 0.08
        for side, word in SIDES:
            turn = np.linspace(0, 1, 7)
            path = [
                X[:3, 3]
                + X[:3, 0] * (-0.10 * deep * t)
                + np.array(
                    [
                        -0.16 * deep * t,
                        side * (s.breadth / 2 + 0.045 + wide * np.sin(np.pi * 0.62 * t + 0.12)),
                        0.05 - deep * t**1.15,
                    ]
                )
                for t in turn
            ]
            parts = [rod(a, b, 0.021 - 0.0012 * k, 0.021 - 0.0012 * (k + 1)) for k, (a, b) in enumerate(pairwise(path))]
            bones.append(
                make_bone(
                    f"rib {n} {word}",
                    "ribs",
                    word,
                    f"dorsal {n}",
                    "held by its vertebra",
                    join(*parts, blend=0.01),
                    path,
                    0.03,
                    n,
                )
            )
    front = next(v for v in column if (v.series, v.number) == ("dorsal", 3)).shape.X_WV[:3, 3]
    back = next(v for v in column if (v.series, v.number) == ("dorsal", 12)).shape.X_WV[:3, 3]
    keel = front + offset(0.02, 0, -0.86)
    plate = join(
        rod(keel + offset(0.20, 0, 0.10), keel - offset(0.16, 0, 0.03), 0.09, 0.06, np.array([0, 0, 3.0])), blend=0.02
    )
    bones.append(
        make_bone(
            "sternum",
            "girdle",
            "middle",
            "dorsal 3",
            UNJOINTED,
            plate,
            [keel + offset(0.3, 0.1, 0.14), keel - offset(0.24, 0.1, 0.06)],
            0.03,
        )
    )
    bow = [
        front + offset(0.24, side * across, -0.62 - 0.16 * (1 - across / 0.22))
        for side, across in ((1, 0.22), (1, 0.10), (1, 0.0), (-1, 0.10), (-1, 0.22))
    ]
    wishbone = join(*(rod(a, b, 0.02) for a, b in pairwise(bow)), blend=0.01)
    bones.append(make_bone("wishbone", "girdle", "middle", "sternum", UNJOINTED, wishbone, bow, 0.04))
    for i in range(BELLY_RIBS):
        t = (i + 0.5) / BELLY_RIBS
        middle = (1 - t) * (keel - offset(0.22, 0, 0.06)) + t * (back + offset(0.10, 0, -0.66))
        for side, word in SIDES:
            tip = middle + offset(-0.05, side * (0.24 - 0.10 * t), 0.13)
            shape = rod(middle + offset(0, side * 0.012, 0), tip, 0.013, 0.007)
            bones.append(
                make_bone(
                    f"belly rib {i + 1} {word}",
                    "ribs",
                    word,
                    f"dorsal {min(12, 4 + i // 2)}",
                    UNJOINTED,
                    shape,
                    [middle, tip],
                    0.025,
                    i + 1,
                )
            )
    return bones


def plan_chevrons(column: list[Vertebra]) -> list[Bone]:
    """Chevrons under the joints of the tail."""
    bones = []
    tail = [v for v in column if v.series == "caudal"]
    for n, vertebra in enumerate(tail[1 : CHEVRONS + 1], start=1):
        s, X = vertebra.shape, vertebra.head.X_WJ
        at = lambda x, y, z, X=X: X[:3, 3] + X[:3, :3] @ np.array([x, y, z])  # noqa: E731
        under, deep, thick = -s.height * 0.62, 0.26 * (1 - n / 34) + 0.025, 0.10 * s.breadth + 0.003
        fork = at(-0.25 * deep, 0, under - 0.4 * deep)
        arms = [rod(at(0, y * 0.28 * s.breadth, under), fork, thick, thick) for y in (1, -1)]
        blade = rod(fork, at(-0.5 * deep, 0, under - deep), thick, 1.2 * thick, X[:3, 1] * 1.5)
        bones.append(
            make_bone(
                f"chevron {n}",
                "caudal",
                "middle",
                f"caudal {n}",
                UNJOINTED,
                join(*arms, blade, blend=thick),
                [at(0, 0.3 * s.breadth, under), at(0, -0.3 * s.breadth, under), at(-0.55 * deep, 0, under - deep)],
                2.5 * thick,
            )
        )
    return bones
