"""Unit quaternions, w first: of rotation matrices, of joint angles, and their products as matrices."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .transforms import Array


def find_quaternion(R: ArrayLike) -> Array:
    """(4,) of a rotation (3, 3): the eigenvector of Bar-Itzhack's matrix, J. Guidance 23 (2000)."""
    (xx, xy, xz), (yx, yy, yz), (zx, zy, zz) = np.asarray(R, float)
    K = np.array(
        [
            [xx + yy + zz, zy - yz, xz - zx, yx - xy],
            [zy - yz, xx - yy - zz, xy + yx, xz + zx],
            [xz - zx, xy + yx, yy - xx - zz, yz + zy],
            [yx - xy, xz + zx, yz + zy, zz - xx - yy],
        ]
    )
    quaternion: Array = np.linalg.eigh(K)[1][:, -1]
    return quaternion


def joint_quaternion(half_rad: ArrayLike) -> Array:
    """(4, n) of half joint angles (3, n), the senses in them: as `joint_rotation` turns.

    Each turn is (1, tangent) along its axis but for the cosine: one function instead of two, and as exact where the
    tangent is huge. The sign is free.
    """
    tangent = np.tan(half_rad)
    flexion, lateral, axial = tangent
    both, across = flexion * lateral, lateral * axial
    q = np.empty((4, len(flexion)))
    q[0], q[1] = 1 + both * axial, flexion - across
    q[2], q[3] = axial - both, lateral + flexion * axial
    tangent *= tangent
    tangent += 1
    q /= np.sqrt(tangent[0] * tangent[1] * tangent[2])
    return q


def multiply_left(q: ArrayLike) -> Array:
    """Matrices (..., 4, 4) that multiply a quaternion by q (..., 4) from the left."""
    w, x, y, z = np.moveaxis(np.asarray(q, float), -1, 0)
    rows = [[w, -x, -y, -z], [x, w, -z, y], [y, z, w, -x], [z, -y, x, w]]
    return np.moveaxis(np.array(rows), (0, 1), (-2, -1))


def multiply_right(q: ArrayLike) -> Array:
    """Matrices (..., 4, 4) that multiply a quaternion by q (..., 4) from the right."""
    w, x, y, z = np.moveaxis(np.asarray(q, float), -1, 0)
    rows = [[w, -x, -y, -z], [x, w, z, -y], [y, -z, w, x], [z, y, -x, w]]
    return np.moveaxis(np.array(rows), (0, 1), (-2, -1))
