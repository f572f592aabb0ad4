"""Rigid transforms as (..., 4, 4) float64 arrays.

`X_AB` takes co-ordinates in frame B to frame A: ``p_A = X_AB p_B``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def make_transform(rotation: ArrayLike, translation: ArrayLike) -> Array:
    """Rotation (..., 3, 3) and translation (..., 3) [m] as one transform (..., 4, 4)."""
    R = np.asarray(rotation, float)
    p = np.asarray(translation, float)
    X = np.zeros((*np.broadcast_shapes(R.shape[:-2], p.shape[:-1]), 4, 4))
    X[..., :3, :3], X[..., :3, 3], X[..., 3, 3] = R, p, 1.0
    return X


def invert(X_AB: ArrayLike) -> Array:
    """The inverse ``X_BA`` of rigid transforms (..., 4, 4)."""
    X = np.asarray(X_AB, float)
    R_BA = np.swapaxes(X[..., :3, :3], -1, -2)
    return make_transform(R_BA, -(R_BA @ X[..., :3, 3, None])[..., 0])


def apply(X_AB: ArrayLike, points_B: ArrayLike) -> Array:
    """Points (..., n, 3) [m] of frame B in frame A, by transforms (..., 4, 4)."""
    X = np.asarray(X_AB, float)
    points_A: Array = np.asarray(points_B, float) @ np.swapaxes(X[..., :3, :3], -1, -2) + X[..., None, :3, 3]
    return points_A


def is_rigid(X: ArrayLike, tolerance: float = 1e-9) -> bool:
    """Whether a (4, 4) array is a proper rigid transform: orthonormal, right-handed, finite."""
    X = np.asarray(X, float)
    if X.shape != (4, 4) or not np.isfinite(X).all():
        return False
    R = X[:3, :3]
    orthonormal = np.allclose(R @ R.T, np.eye(3), rtol=0, atol=tolerance)
    return bool(orthonormal and np.linalg.det(R) > 0 and (X[3] == (0, 0, 0, 1)).all())


def round_places(places_m: ArrayLike) -> Array:
    """Places to a picometre: what is on this grid is the same to the bit after a shift on it and the shift back."""
    rounded: Array = np.round(np.asarray(places_m, float), 12) + 0.0  # no zero has a sign
    return rounded


def mean_motion(first: ArrayLike, second: ArrayLike, point: ArrayLike) -> Array:
    """(4, 4) the mean of two rigid motions (4, 4), as a point (3,) sees it.

    Turned halfway from the first to the second (less than half a turn apart); the point goes to the middle of where
    the two take it. The polar factor of the sum of two rotations is halfway between them: Moakher, SIAM J. Matrix
    Anal. Appl. 24 (2002) 1-16.
    """
    sum_of_both = np.asarray(first, float) + np.asarray(second, float)
    U, _, Vt = np.linalg.svd(sum_of_both[:3, :3])
    R = U @ Vt
    middle = (sum_of_both[:3, :3] @ np.asarray(point, float) + sum_of_both[:3, 3]) / 2
    return make_transform(R, middle - R @ np.asarray(point, float))
