"""Facets that are known of a loose element, as its samples: those of a document, and those marked on its file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..mesh.samples import Samples
from ..mesh.surface import Surface
from ..skeleton.joint import Facet, FacetKind
from ..spatial.transforms import Array
from .facets import Patch
from .fine_rims import FINER, sample_about
from .marked_facets import take_marked
from .midplanes import Midplane, find_midplane, search_midplane
from .partner import Partner, prepare_partner
from .patches import Index, split_patches
from .rim_heights import find_back

_ROUGH_CELLS = 8.0
"""Nodes of the distance grid a size: mating asks for no distances."""
_LEAN, _DEEP_S = 0.3, 0.12
"""Samples of a facet look its way to this cosine, and lie within so much of its outline's plane, beyond its depth."""
_LEAST_SAMPLES = 12

Facets = Mapping[FacetKind, Patch]
"""The facets of one element at one of its joints."""


def prepare_loose(name: str, surface: Surface, volume_m3: float, centre: Array) -> Partner:
    """An element for mating, in its own frame."""
    return prepare_partner(name, surface, volume_m3, centre, cells_a_size=_ROUGH_CELLS)


def take_outlined(element: Partner, facet: Facet) -> Patch | None:
    """The samples of an element within the outline of a facet that lies on it, all in one frame; None: there are few.

    What is told of a facet is its rim; the surface within it is that of the element.
    """
    if facet.outline_m is None:
        return None
    samples, outline = element.samples, _Outline(facet)
    inside = outline.find_within(samples, element.size)
    pieces = split_patches(samples, inside)
    if not pieces or len(pieces[0]) < _LEAST_SAMPLES:
        return None
    # Of surfaces one behind another the facet's is the one about its centroid.
    piece = min(pieces[:3], key=lambda one: np.linalg.norm(samples.points[one].mean(axis=0) - facet.centroid_m))
    fine = None
    if facet.kind != "centrum":  # small ones: a spacing more or less of the element's samples is much
        about = sample_about(element.surface, samples.points[piece], samples.spacing, samples.spacing / FINER)
        fine = None if about is None else about.take(outline.find_within(about, element.size))
    return Patch(facet.kind, element, piece, facet.gap_m, how=facet.how, fine=fine)


def take_painted(element: Partner, raw: Surface, faces: NDArray[np.int64], kind: FacetKind) -> Patch:
    """The samples of an element on marked faces of its file, both in the element's frame; see `take_marked`."""
    return Patch(kind, element, take_marked(element.samples, raw, faces, element.name), 0.0, how="marked by hand")


def find_own_midplane(element: Partner, at_joints: list[Facets]) -> Midplane | None:
    """The middle plane of an element, its normal to the animal's left and its back as far as zygapophyses tell them.

    at_joints : its facets at every joint; None where there are none to go by
    """
    across = np.zeros(3)
    for facets in at_joints:
        left, right = facets.get("left zygapophysis"), facets.get("right zygapophysis")
        if left is not None and right is not None:
            towards = left.points.mean(axis=0) - right.points.mean(axis=0)
            across += towards / np.linalg.norm(towards)
    plates = [facets["centrum"] for facets in at_joints if "centrum" in facets]
    if np.linalg.norm(across) > 0.5:
        plane = find_midplane(element, across)
    elif plates:
        plane = search_midplane(element, plates[0].normal)
    else:
        return None
    return replace(plane, back=find_back(plates, [own for facets in at_joints for own in _list_upper(facets)]))


def _list_upper(facets: Facets) -> list[Patch]:
    """The zygapophyses among facets."""
    return [patch for kind, patch in facets.items() if kind != "centrum"]


class _Outline:
    """The rim of a facet on its plane."""

    def __init__(self, facet: Facet) -> None:
        self.normal = facet.normal / np.linalg.norm(facet.normal)
        first = np.cross(self.normal, np.eye(3)[int(np.argmin(np.abs(self.normal)))])
        self.plane = np.column_stack([first, np.cross(self.normal, first)]) / np.linalg.norm(first)
        self.middle = facet.centroid_m
        offset = np.asarray(facet.outline_m) - self.middle
        self.rim, self.depth = offset @ self.plane, float(np.abs(offset @ self.normal).max())

    def find_within(self, samples: Samples, size: float) -> Index:
        """Samples that lie within it and look its way."""
        offset = samples.points - self.middle
        near = np.abs(offset @ self.normal) < self.depth + _DEEP_S * size
        near &= samples.normals @ self.normal > _LEAN
        index = np.flatnonzero(near)
        # The rim runs through the outermost samples of the facet, so that half of a sample's share lies beyond.
        wide = self.rim + samples.spacing / 2 * self.rim / np.linalg.norm(self.rim, axis=1, keepdims=True)
        return index[_lie_within(offset[index] @ self.plane, wide)]


def _lie_within(flat: Array, rim: Array) -> NDArray[np.bool_]:
    """Whether points (n, 2) lie within a closed loop (k, 2): by how often a ray from them crosses it."""
    x, y = flat[:, 0, None], flat[:, 1, None]
    (x1, y1), (x2, y2) = rim.T, np.roll(rim, -1, axis=0).T
    spans = (y1 > y) != (y2 > y)
    rise = np.where(y2 == y1, 1.0, y2 - y1)
    crosses = spans & (x < x1 + (y - y1) / rise * (x2 - x1))
    inside: NDArray[np.bool_] = crosses.sum(axis=1) % 2 == 1
    return inside
