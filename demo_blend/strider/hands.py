"""Hands of the quay strider: carpals, metacarpals and fingers."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from .bones import HELD, Bone, make_bone, offset
from .limb_joints import LimbJoint, make_limb_joint
from .solids import Array, Solid, ellipsoid, join
from .sweeps import sweep

PHALANGES = (2, 3, 2)
GAP = 0.002
LEFTWARDS = offset(0, 1, 0)
SADDLE = 0.0115
"""The first finger's knuckle is a saddle, of a tube of this radius [m]; the others are balls."""
_KNUCKLE = 0.0125


def plan_hand(roller: LimbJoint, hand: Array) -> list[Bone]:
    """The left hand beyond its wrist."""
    wrist, deep = roller.centre, np.cross(hand, LEFTWARDS)
    turn = np.column_stack([deep, LEFTWARDS, hand])
    block = sweep([wrist + hand * 0.006, wrist + hand * 0.028], (0.030, 0.021), (0.016, 0.014), LEFTWARDS)
    half_moon = join(roller.stand_out(), block, blend=0.008)
    carpals = []
    for k in range(3):
        place = wrist + hand * 0.038 + offset(0, 0.033 * (k - 1), 0)
        solid = half_moon if k == 1 else ellipsoid(place, (0.014, 0.0145, 0.0105), turn)
        bone = make_bone(
            f"carpal {k + 1} left",
            "limb",
            "left",
            "ulna left" if k == 1 else "carpal 2 left",
            "" if k == 1 else HELD,
            solid,
            [wrist, wrist + hand * 0.03] if k == 1 else [place],
            0.05 if k == 1 else 0.03,
            joint=roller if k == 1 else None,
            finest=0.018,
        )
        carpals.append(bone)
    return [bone for k, carpal in enumerate(carpals) for bone in (carpal, *_plan_ray(k, wrist, hand))]


def _plan_ray(k: int, wrist: Array, hand: Array) -> list[Bone]:
    """A metacarpal and its finger."""
    spread = offset(0, 0.033 * (k - 1), 0)
    start = wrist + hand * (0.046 if k == 1 else 0.052) + spread
    end = start + hand * (0.13 if k == 1 else 0.10) + 0.5 * spread
    centres = [end]
    for n in range(PHALANGES[k]):
        centres.append(centres[-1] + hand * (0.068 - 0.012 * n) - offset(0, 0, 0.012 * (n + 1)))
    joints = []
    for n, (a, b) in enumerate(pairwise(centres)):
        if n:
            size = 0.0105 - 0.001 * n
            joints.append(make_limb_joint("hinge", a, LEFTWARDS, b - a, size, 0.95 * size, GAP, 0.13))
        elif k == 0:
            joints.append(make_limb_joint("saddle", a, LEFTWARDS, b - a, SADDLE, gap=GAP))
        else:
            joints.append(make_limb_joint("ball", a, LEFTWARDS, b - a, _KNUCKLE, gap=GAP))
    name = f"metacarpal {k + 1} left"
    shaft = sweep(
        [start, start + hand * 0.012, (start + end) / 2, end - hand * 0.024, end - hand * (0.018 if k == 0 else 0.004)],
        (0.0135, 0.012, 0.009, 0.0098, 0.0105),
        (0.0125, 0.011, 0.009, 0.0092, 0.0095),
        LEFTWARDS,
    )
    bones = [
        make_bone(
            name,
            "limb",
            "left",
            f"carpal {k + 1} left",
            HELD,
            _end(shaft, joints[0]),
            [start, end],
            0.03,
            k + 1,
            finest=0.010,
        )
    ]
    for n, joint in enumerate(joints):
        last = n == len(joints) - 1
        solid = _shape_claw(joint, centres[-1]) if last else _shape_finger(joint, joints[n + 1])
        bones.append(
            make_bone(
                f"hand phalanx {k + 1}-{n + 1} left",
                "limb",
                "left",
                name,
                "",
                solid,
                [joint.centre, centres[n + 1]],
                0.027,
                joint=joint,
                finest=0.009,
            )
        )
        name = bones[-1].name
    return bones


def _end(shaft: Solid, joint: LimbJoint) -> Solid:
    """The far end of a metacarpal: a ball, or the lower half of a saddle."""
    if joint.family != "saddle":
        return join(shaft, joint.stand_out(), blend=0.005)
    c, z = joint.centre, joint.X_WJ[:3, 2]
    flare = sweep(
        [c - z * 0.026, c - z * 0.010, c + z * 0.012], (0.009, 0.0094, 0.0096), (0.009, 0.0114, 0.0122), LEFTWARDS
    )
    return joint.straddle(join(shaft, flare, blend=0.006), upper=False)


def _begin(solid: Solid, joint: LimbJoint) -> Solid:
    """The near end of a finger bone, fitted to what bears it."""
    if joint.family == "saddle":
        return joint.straddle(solid, upper=True)
    return joint.hollow_out(solid, 0.5)


def _measure_base(joint: LimbJoint) -> tuple[float, float]:
    """How wide and deep a finger bone begins."""
    if joint.family == "saddle":
        return 0.0078, 0.0108
    return (0.95 * joint.radius, 0.95 * joint.radius) if joint.family == "ball" else (joint.half_width, joint.radius)


def _shape_finger(joint: LimbJoint, end: LimbJoint) -> Solid:
    start, tip, e = joint.centre, end.centre, end.radius
    along = (tip - start) / np.linalg.norm(tip - start)
    wide, deep = _measure_base(joint)
    shaft = sweep(
        [
            start + along * (0.0 if joint.family == "saddle" else 0.5 * joint.radius),
            start + along * 1.5 * joint.radius,
            (start + tip) / 2 + along * 0.005,
            tip - along * 0.3 * e,
        ],
        (wide, 0.85 * wide, 0.74 * end.half_width, 0.90 * end.half_width),
        (deep, 0.85 * deep, 0.70 * e, 0.80 * e),
        LEFTWARDS,
    )
    return _begin(join(shaft, end.stand_out(), blend=0.3 * e), joint)


def _shape_claw(joint: LimbJoint, tip: Array) -> Solid:
    start, r = joint.centre, joint.radius
    along = (tip - start) / np.linalg.norm(tip - start)
    up = np.cross(along, LEFTWARDS)
    wide, deep = _measure_base(joint)
    path = [start + along * 0.5 * r, start + along * 1.7 * r, (start + tip) / 2 + up * 0.35 * r, tip - up * 0.5 * r]
    claw = sweep(
        path, (wide, 0.75 * wide, 0.5 * wide, 0.12 * wide), (deep, 0.85 * deep, 0.58 * deep, 0.14 * deep), LEFTWARDS
    )
    heel = ellipsoid(start + along * 1.5 * r - up * 0.5 * r, np.full(3, 0.4 * r))
    return _begin(join(claw, heel, blend=0.4 * r), joint)
