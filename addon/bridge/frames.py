"""The one place where the core's axes meet Blender's.

| joint angle | core axis of the joint frame J | Blender's bone axis | intrinsic order |
|---|---|---|---|
| flexion | x | X | 1st |
| lateral | z | Z | 2nd |
| axial | y (along the child, away from the parent) | Y (along the bone, head to tail) | 3rd |

A bone's rest frame is the joint's frame. Blender names an Euler order by the fixed axes, last turn first: intrinsic X,
Z, Y is its mode ``YZX``. Lengths: one scene unit is ``scale_length`` metres.
"""

from __future__ import annotations

import bpy
import numpy as np
from mathutils import Matrix
from numpy.typing import NDArray

Array = NDArray[np.float64]

EULER_ORDER = "YZX"

BONE_AXES = {"flexion": "x", "lateral": "z", "axial": "y"}
"""In the order of the core's joint angles."""


def scene_scale(scene: bpy.types.Scene) -> float:
    """Metres in one scene unit."""
    return float(scene.unit_settings.scale_length)


def to_scene(X: Array, metres_per_unit: float) -> Array:
    """Rigid transforms (..., 4, 4) with their places in scene units instead of metres."""
    scaled = np.array(X, float)
    scaled[..., :3, 3] /= metres_per_unit
    return scaled


def to_metres(X: Array, metres_per_unit: float) -> Array:
    """Rigid transforms (..., 4, 4) with their places in metres instead of scene units."""
    scaled = np.array(X, float)
    scaled[..., :3, 3] *= metres_per_unit
    return scaled


def to_matrix(X: Array) -> Matrix:
    """A (4, 4) array as Blender's matrix."""
    return Matrix([[float(entry) for entry in row] for row in X])


def to_array(matrix: Matrix) -> Array:
    """Blender's matrix as a float64 array."""
    return np.array(matrix, dtype=float)
