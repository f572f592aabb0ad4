"""Hip girdle and legs of the quay strider, down to the ankle."""

from __future__ import annotations

import numpy as np

from .bones import HELD, Bone, make_bone, offset
from .feet import plan_foot
from .limb_joints import LimbJoint, make_limb_joint
from .solids import Array, Solid, ball, carve, ellipsoid, join, rod
from .sweeps import sweep

LEFTWARDS = offset(0, 1, 0)
HIP, KNEE, ANKLE = offset(0.02, 0.20, 2.22), offset(0.46, 0.33, 1.42), offset(0.08, 0.34, 0.54)
BALL_OF_FOOT = offset(0.44, 0.35, 0.13)


def plan_left_leg() -> list[Bone]:
    """Half a hip girdle, leg and foot; the other side is its image."""
    shank, foot = direct(KNEE, ANKLE), direct(ANKLE, BALL_OF_FOOT)
    hip = make_limb_joint("ball", HIP, LEFTWARDS, offset(0.05, -0.45, 0.9), 0.085, gap=0.006)
    knee = make_limb_joint("paired condyles", KNEE, LEFTWARDS, shank, 0.076, 0.094, 0.006)
    ankle = make_limb_joint("hinge", ANKLE, LEFTWARDS, -shank, 0.052, 0.064, 0.005, 0.10)
    return [
        *_plan_hip(hip),
        _make_femur(hip, knee),
        _make_tibia(knee, ankle),
        _make_fibula(),
        *_plan_heel(ankle, foot),
        *plan_foot(ANKLE, foot, BALL_OF_FOOT),
    ]


def direct(start: Array, end: Array) -> Array:
    """Unit direction from one place to another."""
    return (end - start) / np.linalg.norm(end - start)


def _plan_hip(hip: LimbJoint) -> list[Bone]:
    """Ilium, pubis and ischium; the three meet about the socket, which is cut in all of them."""
    top = [offset(0.28, 0.158, 2.51), offset(0.12, 0.158, 2.55), offset(-0.08, 0.158, 2.55), offset(-0.24, 0.158, 2.50)]
    blade = sweep(top, (0.045, 0.165, 0.160, 0.050), (0.020, 0.034, 0.034, 0.020), offset(0, 0, 1))
    body = ellipsoid(hip.at(0, 0, 0.105), (0.135, 0.062, 0.125))
    rim = rod(offset(-0.06, 0.215, 2.33), offset(0.09, 0.215, 2.33), 0.036)
    ilium = hip.hollow_out(join(blade, body, rim, blend=0.07), 0.12)
    head, cartilage = hip.centre, hip.radius + hip.gap
    pubis_tip, ischium_tip = offset(0.42, 0.05, 1.66), offset(-0.52, 0.05, 1.92)
    pubis = join(
        sweep(
            [offset(0.13, 0.165, 2.19), offset(0.24, 0.12, 1.98), pubis_tip],
            (0.058, 0.036, 0.034),
            (0.055, 0.034, 0.034),
            LEFTWARDS,
        ),
        sweep(
            [pubis_tip + offset(0.07, 0, -0.02), pubis_tip, pubis_tip - offset(0.16, 0, 0.0)],
            (0.034, 0.036, 0.022),
            (0.05, 0.042, 0.024),
            LEFTWARDS,
        ),
        blend=0.05,
    )
    ischium = sweep(
        [offset(-0.10, 0.165, 2.20), offset(-0.28, 0.11, 2.06), ischium_tip],
        (0.048, 0.026, 0.030),
        (0.060, 0.032, 0.040),
        LEFTWARDS,
    )
    clear = ball(head, cartilage)
    return [
        _make_girdle(
            "ilium",
            "sacrum",
            "grown to the sacrum",
            ilium,
            [offset(0.5, 0.155, 2.68), offset(-0.5, 0.155, 2.12)],
            0.06,
            0.06,
        ),
        _make_girdle(
            "pubis",
            "ilium left",
            "grown to the ilium",
            carve(pubis, clear, 0.01),
            [offset(0.13, 0.17, 2.17), pubis_tip],
            0.12,
        ),
        _make_girdle(
            "ischium",
            "ilium left",
            "grown to the ilium",
            carve(ischium, clear, 0.01),
            [offset(-0.11, 0.17, 2.17), ischium_tip],
            0.08,
        ),
    ]


def _make_girdle(
    name: str, parent: str, reason: str, solid: Solid, points: list, thick: float, finest: float | None = None
) -> Bone:
    return make_bone(f"{name} left", "girdle", "left", parent, reason, solid, points, thick, finest=finest)


def _make_femur(hip: LimbJoint, knee: LimbJoint) -> Bone:
    """The head on its neck, a trochanter beside it, a bowed shaft, and two condyles that stand out to the back."""
    head = hip.stand_out()
    neck = sweep(
        [HIP, offset(0.025, 0.26, 2.215), offset(0.03, 0.32, 2.17)],
        (0.052, 0.054, 0.062),
        (0.056, 0.058, 0.066),
        LEFTWARDS,
    )
    front = np.cross(direct(HIP, KNEE), LEFTWARDS)
    end, turn = KNEE + front * 0.024, np.column_stack([front, LEFTWARDS, direct(HIP, KNEE)])
    path = [
        offset(0.01, 0.345, 2.255),
        offset(0.045, 0.335, 2.10),
        offset(0.21, 0.33, 1.82) + front * 0.02,
        offset(0.37, 0.33, 1.57) + front * 0.012,
        end,
    ]
    shaft = sweep(path, (0.052, 0.066, 0.056, 0.064, 0.080), (0.060, 0.062, 0.058, 0.054, 0.047), LEFTWARDS)
    lesser = ellipsoid(path[1] - front * 0.035 + direct(HIP, KNEE) * 0.11, (0.03, 0.030, 0.07), turn)
    sides = [ellipsoid(knee.at(0.0, y, 0.0) + front * 0.012, (0.036, 0.02, 0.036)) for y in (0.088, -0.088)]
    hollow = ellipsoid(KNEE - direct(HIP, KNEE) * 0.085 - front * 0.066, (0.032, 0.030, 0.055), turn)
    body = join(carve(join(neck, shaft, lesser, blend=0.05), hollow, 0.03), knee.stand_out(), *sides, blend=0.028)
    points = [hip.centre, knee.centre, offset(0.03, 0.34, 2.3)]
    return make_bone(
        "femur left",
        "limb",
        "left",
        "ilium left",
        "",
        join(head, body, blend=0.018),
        points,
        0.11,
        joint=hip,
        finest=0.085,
    )


def _make_tibia(knee: LimbJoint, ankle: LimbJoint) -> Bone:
    """A plateau with two dishes and a crest in front; a slender shaft; a trough for the ankle."""
    along = direct(KNEE, ANKLE)
    front = np.cross(along, LEFTWARDS)
    path = [
        KNEE + along * 0.055,
        KNEE + along * 0.12,
        KNEE + along * 0.24,
        KNEE + along * 0.55 + front * 0.012,
        ANKLE - along * 0.13,
        ANKLE - along * 0.03,
    ]
    shaft = sweep(
        path, (0.094, 0.090, 0.056, 0.043, 0.052, 0.066), (0.074, 0.068, 0.050, 0.042, 0.043, 0.060), LEFTWARDS
    )
    crest = sweep(
        [KNEE + along * 0.10 + front * 0.055, KNEE + along * 0.16 + front * 0.082, KNEE + along * 0.34 + front * 0.03],
        (0.034, 0.024, 0.014),
        (0.03, 0.03, 0.02),
        LEFTWARDS,
    )
    ankle_bones = [ellipsoid(ankle.at(0.0, y, 0.05), (0.034, 0.018, 0.045)) for y in (0.058, -0.060)]
    whole = join(shaft, crest, *ankle_bones, blend=0.035)
    ligaments = rod(knee.at(-0.12, 0, 0.77 * knee.radius), knee.at(0.12, 0, 0.77 * knee.radius), 0.013)
    solid = carve(ankle.hollow_out(knee.hollow_out(whole, 0.76), 0.58), ligaments, 0.01)
    return make_bone(
        "tibia left", "limb", "left", "femur left", "", solid, [KNEE, ANKLE], 0.13, joint=knee, finest=0.06
    )


def _make_fibula() -> Bone:
    """A splint along the outside of the shank, from under the plateau's edge to above the heel."""
    along = direct(KNEE, ANKLE)
    top, bottom = KNEE + along * 0.125 + offset(-0.03, 0.098, 0), ANKLE - along * 0.072 + offset(-0.012, 0.094, 0)
    path = [top, top + along * 0.12 + offset(0, -0.012, 0), (top + bottom) / 2 + offset(0, -0.012, 0), bottom]
    solid = sweep(path, (0.020, 0.017, 0.013, 0.017), (0.036, 0.026, 0.017, 0.024), LEFTWARDS)
    return make_bone(
        "fibula left", "limb", "left", "tibia left", HELD, solid, [KNEE + along * 0.05, ANKLE], 0.12, finest=0.05
    )


def _plan_heel(ankle: LimbJoint, foot: Array) -> list[Bone]:
    """The roller of the ankle with what bears it, and the heel bone beside it."""
    back = np.cross(LEFTWARDS, foot)
    low = ANKLE + foot * 0.072
    block = sweep([ANKLE + foot * 0.015, low], (0.058, 0.056), (0.033, 0.030), LEFTWARDS)
    astragalus = join(ankle.stand_out(), block, blend=0.02)
    beside = ankle.at(0, 0.086, 0) + foot * 0.014
    heel = join(
        ellipsoid(beside, (0.042, 0.019, 0.042)),
        sweep([beside + foot * 0.02, beside + back * 0.055 + foot * 0.01], (0.018, 0.016), (0.03, 0.022), LEFTWARDS),
        blend=0.02,
    )
    return [
        make_bone(
            "astragalus left",
            "limb",
            "left",
            "tibia left",
            "",
            astragalus,
            [ANKLE, ANKLE + foot * 0.095],
            0.09,
            joint=ankle,
            finest=0.045,
        ),
        make_bone("calcaneum left", "limb", "left", "astragalus left", HELD, heel, [beside], 0.08),
    ]
