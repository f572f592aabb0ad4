"""What a proposal of an element table works with: one piece of the survey, and what is taken of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..mesh.records import BodyRecord
from ..spatial.transforms import Array
from .element import Side


@dataclass(frozen=True, eq=False)
class Candidate:
    """A file or body that may become an element.

    kind : the bone in one word, as in skeleton.bone_names; empty: not recognised
    label : name without side
    number : place in its series or row; None: unknown
    grouped : it is one of several elements of its file
    left_out : why it is not proposed as an element; empty: it is
    """

    file: str
    body: int | None
    unit: str
    kind: str
    label: str
    number: int | None
    side: Side
    grouped: bool
    record: BodyRecord | None
    left_out: str = ""

    @property
    def centre(self) -> Array:
        """(3,) centre of volume."""
        return self.measured.solid.centre_m

    @property
    def points(self) -> Array:
        """(k, 3) points spread over the surface."""
        return self.measured.points_m

    @property
    def volume(self) -> float:
        """Volume [m3]."""
        return self.measured.solid.volume_m3

    @property
    def extent(self) -> Array:
        """(3,) edges of the bounding box."""
        extent: Array = self.measured.solid.upper_m - self.measured.solid.lower_m
        return extent

    @property
    def box_centre(self) -> Array:
        """(3,) middle of the bounding box."""
        middle: Array = (self.measured.solid.upper_m + self.measured.solid.lower_m) / 2
        return middle

    @property
    def diagonal(self) -> float:
        """Length of the bounding box's diagonal."""
        return float(np.linalg.norm(self.extent))

    @property
    def measured(self) -> BodyRecord:
        """The record; only for pieces that could be read."""
        if self.record is None:
            raise ValueError(f"{self.file} was not measured")
        return self.record


def distance_between(one: Candidate, other: Candidate) -> float:
    """Least distance between the points of two pieces [m]."""
    return float(np.min(cKDTree(other.points).query(one.points)[0]))


def find_nearest(one: Candidate, others: list[Candidate]) -> tuple[Candidate | None, float]:
    """The piece that lies nearest, and how far; None and infinity without any."""
    best, least = None, np.inf
    tree = cKDTree(one.points)
    for other in others:
        if other is one:
            continue
        distance = float(np.min(tree.query(other.points)[0]))
        if distance < least:
            best, least = other, distance
    return best, least


def find_ends(piece: Candidate) -> Array:
    """(2, 3) the two ends of a long bone: mean points of the outer tenths along its longest direction."""
    offsets = piece.points - piece.points.mean(axis=0)
    along = offsets @ np.linalg.svd(offsets, full_matrices=False)[2][0]
    few = max(1, len(along) // 10)
    order = np.argsort(along)
    return np.stack([piece.points[order[:few]].mean(axis=0), piece.points[order[-few:]].mean(axis=0)])


def distance_of_ends(one: Candidate, other: Candidate) -> float:
    """Least distance between the ends of two long bones [m]."""
    return float(np.linalg.norm(find_ends(one)[:, None] - find_ends(other)[None], axis=2).min())


def find_mirror_image(piece: Candidate, others: list[Candidate], middle_y: float) -> Candidate | None:
    """The piece on the other side: of the same kind, its centre within a tenth of the size, its volume of a tenth."""
    mirrored = piece.centre * (1, -1, 1) + (0, 2 * middle_y, 0)
    for other in others:
        away = float(np.linalg.norm(other.centre - mirrored))
        same = other.kind == piece.kind and abs(other.volume - piece.volume) < 0.1 * piece.volume
        if same and away < 0.1 * piece.diagonal:
            return other
    return None
