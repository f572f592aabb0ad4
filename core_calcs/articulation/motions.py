"""Elements and their facets after a rigid motion of the world: nothing is sampled or measured again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..spatial.transforms import Array, apply, make_transform
from .facets import Patch
from .partner import Partner


def move_rigidly(element: Partner, D: Array) -> Partner:
    """The same element moved by D (4, 4); its distance grid stays and is asked in a frame of its own."""
    samples = element.samples
    moved = replace(samples, points=apply(D, samples.points), normals=samples.normals @ D[:3, :3].T)
    return replace(
        element,
        centre=apply(D, element.centre[None])[0],
        samples=moved,
        grid=element.grid.move(D),
        crests=apply(D, element.crests),
        surface=replace(element.surface, vertices=apply(D, element.surface.vertices)),
    )


def move_partner(element: Partner, shift_m: Array) -> Partner:
    """The same element moved by a translation (3,)."""
    return move_rigidly(element, make_transform(np.eye(3), shift_m))


def move_patch(patch: Patch, moved: Partner, D: Array) -> Patch:
    """A facet of an element that was moved by D (4, 4); its gap is left as it was."""
    fine = patch.fine
    if fine is not None:
        fine = replace(fine, points=apply(D, fine.points), normals=fine.normals @ D[:3, :3].T)
    return replace(patch, element=moved, fine=fine)
