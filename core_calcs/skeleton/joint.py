"""A joint: parent, child, frame, limits, and the evidence they rest on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..spatial.transforms import Array

AXES = ("flexion", "lateral", "axial")
JointKind = Literal["column", "fixed", "by hand"]
FacetKind = Literal["centrum", "left zygapophysis", "right zygapophysis"]
StopReason = Literal["bone contact", "facet overlap", "gap", "search range", "by hand"]
Confidence = Literal["found", "ambiguous", "by hand", "none"]


@dataclass(frozen=True, eq=False)
class Facet:
    """One facet of a joint on one of its two elements; world of the neutral articulation.

    element : the element it lies on
    centroid_m, normal : (3,) area-weighted centroid, mean outward unit normal
    area_m2 : its area
    gap_m : mean distance to the partner's facet; negative where they overlap
    """

    kind: FacetKind
    element: str
    centroid_m: Array
    normal: Array
    area_m2: float
    gap_m: float


@dataclass(frozen=True, eq=False)
class Stop:
    """Where a movement about one axis ends.

    angle_rad : the signed joint angle
    reason : what ends it
    place_m : (3,) where, in the world of the neutral articulation (parent at rest); None where no place is meant
    """

    angle_rad: float
    reason: StopReason
    place_m: Array | None


@dataclass(frozen=True, eq=False)
class AxisLimit:
    """The two ends of the movement about one axis: ``low.angle_rad <= 0 <= high.angle_rad``."""

    low: Stop
    high: Stop


@dataclass(frozen=True)
class LimitSettings:
    """What the limits were computed with; lengths in shares of the joint's size s (cube root of an element's volume).

    overlap_share : least share of a facet's neutral contact that must stay covered
    contact_share_s : bone contact beyond the neutral placement's that is still allowed
    slide_share_s : greatest translation at the joint by which contact may be relieved
    gap_share_s : greatest opening of the facets beyond the neutral gap
    search_rad : how far the search goes
    """

    overlap_share: float = 0.5
    contact_share_s: float = 0.02
    slide_share_s: float = 0.03
    gap_share_s: float = 0.15
    search_rad: float = 1.0471975511965976


@dataclass(frozen=True, eq=False)
class Joint:
    """The attachment of a child to its parent.

    X_WJ : (4, 4) joint frame in the world of the neutral articulation: x flexion axis, y long axis of the child
        away from the parent, z = x × y; origin at the joint's centre (for a fixed one: where it is cut)
    senses : +1 or -1 for flexion, lateral, axial (see spatial.rotations)
    limits : one AxisLimit for flexion, lateral, axial; None: not known
    reason : how the joint was found, or why it is fixed, or what the user wrote
    settings : what the limits were computed with; None where they were not computed
    """

    parent: str
    child: str
    kind: JointKind
    X_WJ: Array
    senses: tuple[int, int, int]
    limits: tuple[AxisLimit, AxisLimit, AxisLimit] | None
    facets: tuple[Facet, ...]
    confidence: Confidence
    reason: str
    settings: LimitSettings | None

    @property
    def moves(self) -> bool:
        """Whether the joint can turn at all."""
        return self.kind != "fixed"
