"""Girdles, arms and legs of the quay strider."""

from __future__ import annotations

import numpy as np

from .bones import BY_HAND, HELD, SIDES, UNJOINTED, Bone, long_bone, make_bone, offset
from .column import Vertebra
from .solids import Array, ball, cut, ellipsoid, join, rod

FOOT_PHALANGES = (2, 3, 4, 5)
HAND_PHALANGES = (2, 3, 2)


def plan_arms(column: list[Vertebra]) -> list[Bone]:
    """Shoulder girdle, arms and hands."""
    chest = next(v for v in column if (v.series, v.number) == ("dorsal", 2)).shape.X_WV[:3, 3]
    bones = []
    for side, word in SIDES:
        at = lambda x, y, z, side=side: chest + np.array([x, side * y, z])  # noqa: E731
        shoulder, top = at(0.06, 0.27, -0.62), at(-0.50, 0.30, -0.10)
        blade = join(
            rod(shoulder + offset(0, 0, 0.03), top, 0.05, 0.08, np.array([0, 3.2, 0])),
            ball(shoulder + offset(-0.01, 0, 0.06), 0.05),
            blend=0.05,
        )
        bones.append(make_bone(f"scapula {word}", "girdle", word, "dorsal 2", UNJOINTED, blade, [shoulder, top], 0.10))
        plate = rod(
            shoulder + offset(0.05, 0, -0.03), at(0.10, 0.13, -0.80), 0.06, 0.08, np.array([0.0, -side * 1.8, 1.8])
        )
        bones.append(
            make_bone(
                f"coracoid {word}",
                "girdle",
                word,
                f"scapula {word}",
                "grown to the shoulder blade",
                plate,
                [shoulder, at(0.10, 0.13, -0.80)],
                0.11,
            )
        )
        elbow, wrist = at(-0.10, 0.31, -0.94), at(0.12, 0.28, -1.13)
        bones.append(
            make_bone(
                f"humerus {word}",
                "limb",
                word,
                f"scapula {word}",
                BY_HAND,
                long_bone(shoulder + offset(0, 0, -0.06), elbow, 0.028),
                [shoulder, elbow],
                0.07,
            )
        )
        aside = np.array([0, side * 0.03, 0])
        bones.append(
            make_bone(
                f"ulna {word}",
                "limb",
                word,
                f"humerus {word}",
                BY_HAND,
                long_bone(elbow + aside, wrist + aside, 0.017),
                [elbow, wrist],
                0.08,
            )
        )
        bones.append(
            make_bone(
                f"radius {word}",
                "limb",
                word,
                f"ulna {word}",
                HELD,
                long_bone(elbow - aside + offset(0.03, 0, -0.02), wrist - aside, 0.015),
                [elbow, wrist],
                0.08,
            )
        )
        hand = wrist - elbow
        hand = hand / np.linalg.norm(hand)
        for k in range(3):
            spread = np.array([0, side * 0.035 * (k - 1), 0])
            carpal = wrist + hand * 0.035 + spread
            bones.append(
                make_bone(
                    f"carpal {k + 1} {word}",
                    "limb",
                    word,
                    f"ulna {word}",
                    HELD,
                    ellipsoid(carpal, (0.016, 0.015, 0.015)),
                    [carpal],
                    0.03,
                )
            )
            start = carpal + hand * 0.025
            end = start + hand * (0.13 if k == 1 else 0.10) + 0.5 * spread
            bones.append(
                make_bone(
                    f"metacarpal {k + 1} {word}",
                    "limb",
                    word,
                    f"carpal {k + 1} {word}",
                    HELD,
                    long_bone(start, end, 0.010),
                    [start, end],
                    0.03,
                    k + 1,
                )
            )
            parent = f"metacarpal {k + 1} {word}"
            for n in range(HAND_PHALANGES[k]):
                start, end = end + hand * 0.004, end + hand * (0.065 - 0.012 * n) - offset(0, 0, 0.012 * (n + 1))
                last = n == HAND_PHALANGES[k] - 1
                shape = rod(start, end, 0.012, 0.003) if last else long_bone(start, end, 0.008)
                name = f"hand phalanx {k + 1}-{n + 1} {word}"
                bones.append(make_bone(name, "limb", word, parent, HELD, shape, [start, end], 0.025))
                parent = name
    return bones


def plan_legs() -> list[Bone]:
    """Hip girdle, legs and feet."""
    bones = []
    for side, word in SIDES:
        at = lambda x, y, z, side=side: np.array([x, side * y, z])  # noqa: E731
        hip = at(0.02, 0.20, 2.22)
        blade = cut(
            join(
                rod(at(0.34, 0.155, 2.52), at(-0.36, 0.155, 2.50), 0.17, 0.15, np.array([0, 4.0, 0])),
                ball(at(0.02, 0.17, 2.27), 0.12),
                blend=0.10,
            ),
            ball(hip, 0.095),
        )
        bones.append(
            make_bone(
                f"ilium {word}",
                "girdle",
                word,
                "sacrum",
                "grown to the sacrum",
                blade,
                [at(0.5, 0.155, 2.68), at(-0.5, 0.155, 2.12)],
                0.06,
            )
        )
        pubis_tip, ischium_tip = at(0.42, 0.05, 1.66), at(-0.52, 0.05, 1.92)
        bones.append(
            make_bone(
                f"pubis {word}",
                "girdle",
                word,
                f"ilium {word}",
                "grown to the ilium",
                join(
                    rod(at(0.13, 0.17, 2.17), pubis_tip, 0.055, 0.035),
                    rod(pubis_tip + offset(0.06, 0, -0.02), pubis_tip - offset(0.14, 0, 0.0), 0.05, 0.03),
                    blend=0.05,
                ),
                [at(0.13, 0.17, 2.17), pubis_tip],
                0.12,
            )
        )
        bones.append(
            make_bone(
                f"ischium {word}",
                "girdle",
                word,
                f"ilium {word}",
                "grown to the ilium",
                rod(at(-0.11, 0.17, 2.17), ischium_tip, 0.05, 0.03),
                [at(-0.11, 0.17, 2.17), ischium_tip],
                0.08,
            )
        )
        knee, ankle, ball_of_foot = at(0.46, 0.33, 1.42), at(0.08, 0.34, 0.54), at(0.44, 0.35, 0.13)
        neck = join(ball(hip, 0.085), rod(hip, at(0.03, 0.31, 2.19), 0.055), blend=0.03)
        shaft = long_bone(at(0.03, 0.32, 2.26), knee, 0.062, 1.35, 1.55)
        bones.append(
            make_bone(
                f"femur {word}",
                "limb",
                word,
                f"ilium {word}",
                BY_HAND,
                join(neck, shaft, blend=0.05),
                [hip, knee, at(0.03, 0.34, 2.3)],
                0.11,
            )
        )
        below = (ankle - knee) / np.linalg.norm(ankle - knee)
        start = knee + below * 0.05
        bones.append(
            make_bone(
                f"tibia {word}",
                "limb",
                word,
                f"femur {word}",
                BY_HAND,
                long_bone(start, ankle, 0.05, 1.8, 1.4),
                [knee, ankle],
                0.12,
            )
        )
        splint = np.array([-0.02, side * 0.085, 0])
        bones.append(
            make_bone(
                f"fibula {word}",
                "limb",
                word,
                f"tibia {word}",
                HELD,
                long_bone(start + splint + offset(0, 0, -0.06), ankle + splint * 0.8, 0.02),
                [start, ankle],
                0.12,
            )
        )
        foot = (ball_of_foot - ankle) / np.linalg.norm(ball_of_foot - ankle)
        talus = ankle + foot * 0.045
        bones.append(
            make_bone(
                f"astragalus {word}",
                "limb",
                word,
                f"tibia {word}",
                BY_HAND,
                ellipsoid(talus + offset(0, -side * 0.025, 0), (0.045, 0.055, 0.042)),
                [ankle, talus + foot * 0.05],
                0.10,
            )
        )
        bones.append(
            make_bone(
                f"calcaneum {word}",
                "limb",
                word,
                f"astragalus {word}",
                HELD,
                ellipsoid(talus + offset(-0.01, side * 0.06, 0), (0.035, 0.03, 0.038)),
                [talus],
                0.12,
            )
        )
        for k in range(2):
            tarsal = talus + foot * 0.068 + offset(0, side * (0.045 * k - 0.02), 0)
            bones.append(
                make_bone(
                    f"tarsal {k + 1} {word}",
                    "limb",
                    word,
                    f"astragalus {word}",
                    HELD,
                    ellipsoid(tarsal, (0.03, 0.024, 0.02)),
                    [tarsal],
                    0.05,
                )
            )
        for k, across in enumerate((-0.075, -0.045, 0.0, 0.045)):
            small = k == 0
            start = talus + foot * (0.22 if small else 0.11) + offset(0, side * across, 0)
            end = ball_of_foot + offset(
                -0.10 if small else 0.0, side * across * (1.2 if small else 1.5), 0.03 if small else 0.0
            )
            thick = 0.016 if small else 0.030
            bones.append(
                make_bone(
                    f"metatarsal {k + 1} {word}",
                    "limb",
                    word,
                    f"astragalus {word}",
                    HELD,
                    long_bone(start, end, thick, 1.2, 1.35),
                    [start, end],
                    0.06,
                    k + 1,
                )
            )
            bones += _toe(k, side, word, end, thick)
    return bones


def _toe(k: int, side: int, word: str, start: Array, thick: float) -> list[Bone]:
    """Phalanges from the metatarsal's end down to the ground and along it; the last is a claw."""
    count, small = FOOT_PHALANGES[k], k == 0
    length = 0.30 if small else 0.40
    fan = np.radians((40, 16, 0, -16)[k]) * -side
    along = np.array([np.cos(fan), np.sin(fan), 0.0])
    bones, parent, before = [], f"metatarsal {k + 1} {word}", start
    for n in range(count):
        t1 = (n + 1) / count
        radius = thick * (0.95 - 0.45 * t1)
        low = 1.28 * radius
        end = start + along * length * t1
        end[2] = low + max(0.0, start[2] - low) * (1 - t1) ** 2.2
        last = n == count - 1
        tip = end - offset(0, 0, 0.8 * radius) if last else end
        shape = rod(before, tip, radius, 0.25 * radius) if last else long_bone(before, tip, radius * 0.8, 1.25, 1.25)
        name = f"foot phalanx {k + 1}-{n + 1} {word}"
        bones.append(make_bone(name, "limb", word, parent, HELD, shape, [before, tip], 2 * radius))
        parent, before = name, end + along * 0.004
    return bones
