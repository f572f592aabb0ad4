"""Joint angles and rotation matrices.

Joint frame J: x flexion axis (fixed in the parent), y long axis of the child pointing away from the parent,
z = x × y. The child turns by ``R_J = Rx(s_f flexion) Rz(s_l lateral) Ry(s_a axial)``: intrinsic order flexion,
lateral, axial, with the floating axis between, after Grood & Suntay, J. Biomech. Eng. 105 (1983) 136-144. The senses
``(s_f, s_l, s_a)`` are +1 or -1 and make the same number mean the same movement on either side and end of the body.
"""

from __future__ import annotations

from math import cos, sin
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .transforms import Array

LATERAL_RAD = float(np.radians(90))
"""Lateral angles stay below this: there flexion and axial turn are one movement."""

TOGETHER_RAD = float(np.radians(270))
"""Two sets of angles say one attitude, and their absolute values add up to one and a half turns. `joint_angles` takes
that with the lateral angle within ±90°, Blender that of the lesser sum: below this sum they are the same."""


def joint_rotation(angles: ArrayLike, senses: ArrayLike = (1, 1, 1)) -> Array:
    """Rotation matrices (..., 3, 3) of joint angles (..., 3): flexion, lateral, axial [rad], senses (..., 3)."""
    signed = np.asarray(angles, float) * np.asarray(senses, float)
    if signed.ndim == 1:
        # Plain numbers: for one joint alone arrays of one cost more to call than to count.
        own = signed.tolist()
        return np.array(_write_rotation(*map(cos, own), *map(sin, own)))
    R = np.empty((*signed.shape[:-1], 3, 3))
    parts = (values[..., axis] for values in (np.cos(signed), np.sin(signed)) for axis in range(3))
    for i, row in enumerate(_write_rotation(*parts)):
        for j, value in enumerate(row):
            R[..., i, j] = value
    return R


def _write_rotation(cf: Any, cl: Any, ca: Any, sf: Any, sl: Any, sa: Any) -> tuple[tuple[Any, Any, Any], ...]:
    """Rows of Rx(f) Rz(l) Ry(a) by the cosines and sines of the three."""
    return (
        (cl * ca, -sl, cl * sa),
        (cf * sl * ca + sf * sa, cf * cl, cf * sl * sa - sf * ca),
        (sf * sl * ca - cf * sa, sf * cl, sf * sl * sa + cf * ca),
    )


def joint_angles(R: ArrayLike, senses: ArrayLike = (1, 1, 1)) -> Array:
    """Joint angles (..., 3): flexion, lateral, axial [rad] of rotation matrices (..., 3, 3).

    At a lateral angle of ±90° flexion and axial turn share one axis: the axial angle is then returned as zero.
    """
    R = np.asarray(R, float)
    cos_lateral = np.hypot(R[..., 0, 0], R[..., 0, 2])
    lateral = np.arctan2(-R[..., 0, 1], cos_lateral)
    free = cos_lateral > 1e-9
    flexion = np.where(free, np.arctan2(R[..., 2, 1], R[..., 1, 1]), np.arctan2(-R[..., 1, 2], R[..., 2, 2]))
    axial = np.where(free, np.arctan2(R[..., 0, 2], R[..., 0, 0]), 0.0)
    angles: Array = np.stack([flexion, lateral, axial], axis=-1) * np.asarray(senses, float)
    return angles
