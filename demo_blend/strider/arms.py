"""Shoulder girdle and arms of the quay strider, down to the wrist."""

from __future__ import annotations

import numpy as np

from .bones import HELD, UNJOINTED, Bone, make_bone, offset
from .column import Vertebra
from .hands import plan_hand
from .limb_joints import LimbJoint, make_limb_joint
from .solids import Array, ball, carve, ellipsoid, halfspace, join, trim
from .sweeps import sweep

LEFTWARDS = offset(0, 1, 0)


def plan_left_arm(column: list[Vertebra]) -> list[Bone]:
    """Half a shoulder girdle, arm and hand; the other side is its image."""
    chest = next(v for v in column if (v.series, v.number) == ("dorsal", 2)).shape.X_WV[:3, 3]
    at = lambda x, y, z: chest + np.array([x, y, z])  # noqa: E731
    shoulder, elbow, wrist = at(0.06, 0.27, -0.62), at(-0.10, 0.31, -0.94), at(0.12, 0.28, -1.13)
    upper, fore = _direct(shoulder, elbow), _direct(elbow, wrist)
    axis = -_direct(np.zeros(3), np.cross(upper, fore))
    socket = make_limb_joint("ball", shoulder, LEFTWARDS, offset(0.25, -0.40, 0.88), 0.044, gap=0.004)
    hinge = make_limb_joint("hinge", elbow, axis, fore, 0.029, 0.038, 0.003, 0.16)
    roller = make_limb_joint("hinge", wrist, LEFTWARDS, -fore, 0.021, 0.034, 0.0025, 0.08)
    return [
        *_plan_shoulder(socket, at(-0.50, 0.30, -0.10), at(0.10, 0.13, -0.80)),
        _make_humerus(socket, hinge),
        *_plan_forearm(hinge, roller),
        *plan_hand(roller, fore),
    ]


def _direct(start: Array, end: Array) -> Array:
    return (end - start) / np.linalg.norm(end - start)


def _plan_shoulder(socket: LimbJoint, top: Array, low: Array) -> list[Bone]:
    """Blade and coracoid, which share the shallow socket."""
    s = socket.centre
    neck = socket.at(0, 0, 0.062)
    thin = offset(0, 1, 0)
    path = [socket.at(0, 0, 0.035), neck, s + (top - s) * 0.30, s + (top - s) * 0.65, top]
    blade = sweep(path, (0.048, 0.044, 0.019, 0.015, 0.011), (0.056, 0.058, 0.044, 0.055, 0.088), thin)
    knob = ellipsoid(s + offset(0.055, -0.01, 0.085), (0.034, 0.02, 0.034))
    scapula = socket.hollow_out(join(blade, knob, blend=0.04), 0.42)
    away = s + offset(0.058, -0.032, 0.022)
    plate = sweep([away, (away + low) / 2, low], (0.058, 0.075, 0.052), (0.026, 0.019, 0.012), offset(0.75, 0, 0.65))
    front = trim(carve(plate, ball(s, socket.radius + 2 * socket.gap), 0.008), halfspace(s, offset(-1, 0.5, 0.0)), 0.01)
    return [
        make_bone("scapula left", "girdle", "left", "dorsal 2", UNJOINTED, scapula, [s, top], 0.12, finest=0.04),
        make_bone(
            "coracoid left", "girdle", "left", "scapula left", "grown to the shoulder blade", front, [s, low], 0.12
        ),
    ]


def _make_humerus(socket: LimbJoint, hinge: LimbJoint) -> Bone:
    """A ball that looks up and inwards, a crest in front of the shaft, a pulley with a knob on either side."""
    s, e = socket.centre, hinge.centre
    along = _direct(s, e)
    front = np.cross(along, LEFTWARDS)
    path = [
        s + along * 0.022 + offset(0, 0.012, 0),
        s + along * 0.075 + offset(0, 0.008, 0),
        (s + e) / 2 + front * 0.006,
        e - along * 0.075,
        e - along * 0.008 - front * 0.007,
    ]
    shaft = sweep(path, (0.042, 0.033, 0.023, 0.028, 0.036), (0.035, 0.029, 0.024, 0.021, 0.016), LEFTWARDS)
    crest = sweep(
        [s + along * 0.055 + front * 0.02, s + along * 0.10 + front * 0.046, s + along * 0.17 + front * 0.012],
        (0.014, 0.011, 0.009),
        (0.02, 0.02, 0.014),
        LEFTWARDS,
    )
    knobs = [ellipsoid(hinge.at(0, y, 0) - along * 0.016, (0.016, 0.012, 0.022)) for y in (0.036, -0.038)]
    body = join(shaft, crest, *knobs, blend=0.022)
    solid = join(body, socket.stand_out(), hinge.stand_out(), blend=0.012)
    return make_bone(
        "humerus left", "limb", "left", "scapula left", "", solid, [s, e], 0.075, joint=socket, finest=0.026
    )


def _plan_forearm(hinge: LimbJoint, roller: LimbJoint) -> list[Bone]:
    """The ulna, whose notch holds the pulley between its point and its beak, and the radius beside it."""
    e, w = hinge.centre, roller.centre
    along = _direct(e, w)
    back = np.cross(LEFTWARDS, along)
    out = offset(0, 0.010, 0)
    path = [
        e - along * 0.052 + back * 0.030 + out,
        e - along * 0.010 + back * 0.036 + out,
        e + along * 0.048 + back * 0.012 + out,
        (e + w) / 2 + offset(0, 0.020, 0) + back * 0.010,
        w - along * 0.06 + offset(0, 0.019, 0),
        w - along * 0.006 + offset(0, 0.017, 0),
    ]
    shaft = sweep(
        path, (0.017, 0.026, 0.024, 0.014, 0.015, 0.017), (0.020, 0.024, 0.026, 0.015, 0.016, 0.021), LEFTWARDS
    )
    beak = ellipsoid(e + along * 0.038 + out, (0.017, 0.022, 0.017))
    ulna = roller.hollow_out(carve(join(shaft, beak, blend=0.015), hinge.stand_out(hinge.gap, 2.5), 0.004), 0.45)
    inner = offset(0, -0.019, 0)
    rod_path = [
        e + along * 0.044 + inner - back * 0.007,
        e + along * 0.08 + inner - back * 0.006,
        (e + w) / 2 + inner,
        w - along * 0.05 + inner * 0.95,
        w - along * 0.006 + inner * 0.9,
    ]
    spoke = sweep(rod_path, (0.016, 0.012, 0.011, 0.013, 0.0155), (0.015, 0.013, 0.012, 0.014, 0.021), LEFTWARDS)
    clear = lambda p: ulna(p) - 0.0015  # noqa: E731
    radius = roller.hollow_out(carve(carve(spoke, hinge.stand_out(hinge.gap, 2.5), 0.004), clear, 0.003), 0.45)
    return [
        make_bone("ulna left", "limb", "left", "humerus left", "", ulna, [e, w], 0.085, joint=hinge, finest=0.022),
        make_bone("radius left", "limb", "left", "ulna left", HELD, radius, [e, w], 0.08, finest=0.022),
    ]
