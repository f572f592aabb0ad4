"""Surfaces carried along by a transform, also by one that mirrors or scales."""

from __future__ import annotations

import numpy as np

from ..spatial.transforms import Array, apply
from .surface import Surface


def transform_surface(surface: Surface, X: Array) -> Surface:
    """A surface under an affine map (4, 4); one that mirrors winds the faces the other way, so that out stays out."""
    faces = surface.faces[:, (0, 2, 1)] if np.linalg.det(X[:3, :3]) < 0 else surface.faces
    return Surface(apply(X, surface.vertices), np.ascontiguousarray(faces))
