"""Feet of the quay strider: tarsals, metatarsals and toes."""

from __future__ import annotations

import numpy as np

from .bones import HELD, Bone, make_bone, offset
from .limb_joints import LimbJoint, make_limb_joint
from .solids import Array, ellipsoid, join
from .sweeps import sweep

PHALANGES = (2, 3, 4, 5)
FAN_DEG = (40, 16, 0, -16)
ACROSS = (-0.075, -0.045, 0.0, 0.045)
"""Where the metatarsals begin beside the foot's middle; the first is the small one on the inside [m]."""
GAP = 0.003
LOWEST = 1.04
"""Height of a toe's rollers above the ground, by their radius."""


def plan_foot(ankle: Array, foot: Array, ball_of_foot: Array) -> list[Bone]:
    """The left foot below its astragalus."""
    left = offset(0, 1, 0)
    deep = np.cross(foot, left)
    turn = np.column_stack([deep, left, foot])
    bones = []
    for k in range(2):
        tarsal = ankle + foot * 0.112 + offset(0, 0.052 * k - 0.026, 0)
        solid = join(
            ellipsoid(tarsal, (0.036, 0.030, 0.011), turn),
            ellipsoid(tarsal + deep * 0.008, (0.022, 0.020, 0.014), turn),
            blend=0.008,
        )
        bones.append(make_bone(f"tarsal {k + 1} left", "limb", "left", "astragalus left", HELD, solid, [tarsal], 0.05))
    for k in range(4):
        bones += _plan_ray(k, ankle, foot, ball_of_foot)
    return bones


def _plan_ray(k: int, ankle: Array, foot: Array, ball_of_foot: Array) -> list[Bone]:
    """A metatarsal and its toe."""
    small, across = k == 0, ACROSS[k]
    start = ankle + foot * (0.24 if small else 0.134) + offset(0, across, 0)
    end = ball_of_foot + offset(-0.10 if small else 0.0, across * (1.2 if small else 1.5), 0.03 if small else 0.0)
    thick = 0.016 if small else 0.030
    joints, tip = _lay_toe(k, end, thick)
    along = (end - start) / np.linalg.norm(end - start)
    first = joints[0]
    side = first.X_WJ[:3, 1]
    wide = 0.6 * thick if small else 0.66 * thick
    shaft = sweep(
        [start, start + along * 1.3 * thick, (start + end) / 2, end - along * 1.6 * thick, end - along * 0.2 * thick],
        (wide, 0.95 * wide, 0.88 * wide, 0.95 * wide, 0.86 * first.half_width),
        (1.15 * thick, 0.95 * thick, 0.70 * thick, 0.72 * thick, 0.74 * first.radius),
        side,
    )
    name = f"metatarsal {k + 1} left"
    solid = join(shaft, first.stand_out(), blend=0.35 * first.radius)
    bones = [
        make_bone(name, "limb", "left", "astragalus left", HELD, solid, [start, end], 0.06, k + 1, finest=first.radius)
    ]
    for n, joint in enumerate(joints):
        last = n == len(joints) - 1
        bones.append(_make_phalanx(k, n, name, joint, tip if last else joints[n + 1]))
        name = bones[-1].name
    return bones


def _lay_toe(k: int, start: Array, thick: float) -> tuple[list[LimbJoint], Array]:
    """Joints of a toe from the metatarsal's end down to the ground and along it, and the tip of its claw."""
    count, length = PHALANGES[k], 0.30 if k == 0 else 0.40
    fan = -np.radians(FAN_DEG[k])
    along = np.array([np.cos(fan), np.sin(fan), 0.0])
    centres, radii = [start], [1.02 * thick]
    for n in range(count):
        t = (n + 1) / count
        radius = thick * (0.92 - 0.45 * t)
        low = LOWEST * radius
        place = start + along * length * t
        place[2] = low + max(0.0, start[2] - low) * (1 - t) ** 2.2
        centres.append(place)
        radii.append(radius)
    axis = np.array([-along[1], along[0], 0.0])
    joints = [
        make_limb_joint("hinge", a, axis, b - a, radius, (0.98 if n else 0.86) * radius, GAP, 0.13)
        for n, (a, b, radius) in enumerate(zip(centres[:-1], centres[1:], radii[:-1], strict=True))
    ]
    return joints, centres[-1] - offset(0, 0, 0.75 * radii[-1])


def _make_phalanx(k: int, n: int, parent: str, joint: LimbJoint, end: LimbJoint | Array) -> Bone:
    """A toe bone from one roller to the next; the last is a claw, `end` its tip."""
    name, r, wide = f"foot phalanx {k + 1}-{n + 1} left", joint.radius, joint.half_width
    start, side = joint.centre, joint.X_WJ[:3, 1]
    last = not isinstance(end, LimbJoint)
    tip = end if last else end.centre
    along = (tip - start) / np.linalg.norm(tip - start)
    base = start + along * 0.55 * r
    if last:
        up = np.cross(along, side)
        path = [base, start + along * 1.7 * r, (base + tip) / 2 + up * 0.30 * r, tip + up * 0.05 * r]
        solid = sweep(
            path, (0.95 * wide, 0.72 * wide, 0.5 * wide, 0.1 * wide), (0.98 * r, 0.85 * r, 0.55 * r, 0.12 * r), side
        )
        solid = join(solid, ellipsoid(start + along * 1.5 * r - up * 0.5 * r, np.full(3, 0.4 * r)), blend=0.4 * r)
    else:
        e = end.radius
        shaft = sweep(
            [base, start + along * 1.45 * r, tip - along * 1.25 * e, tip],
            (1.04 * wide, 0.96 * wide, 0.84 * end.half_width, 0.92 * end.half_width),
            (1.00 * r, 0.84 * r, 0.72 * e, 0.80 * e),
            side,
        )
        solid = join(shaft, end.stand_out(), blend=0.4 * e)
    solid = joint.hollow_out(solid, 0.52)
    finest = r if last else end.radius
    return make_bone(name, "limb", "left", parent, "", solid, [start, tip], 1.6 * r, joint=joint, finest=finest)
