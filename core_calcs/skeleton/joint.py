"""A joint: parent, child, frame, limits, and the evidence they rest on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..spatial.transforms import Array

AXES = ("flexion", "lateral", "axial")
JointKind = Literal["column", "limb", "fixed", "by hand"]
FacetKind = Literal["centrum", "left zygapophysis", "right zygapophysis", "articular surface"]
StopReason = Literal["bone contact", "facet overlap", "gap", "search range", "held", "by hand"]
Confidence = Literal["found", "ambiguous", "by hand", "none"]


FacetShape = Literal["plane", "cylinder", "sphere"]


@dataclass(frozen=True)
class FacetSurface:
    """The plainest surface that a facet lies on.

    radius_m : of a cylinder or sphere, negative where the facet is hollow; null of a plane
    residual_m : root mean square distance of its samples from the surface
    """

    shape: FacetShape
    radius_m: float | None
    residual_m: float


@dataclass(frozen=True, eq=False)
class Facet:
    """One facet of a joint on one of its two elements; world of the neutral articulation.

    element : the element it lies on
    centroid_m, normal : (3,) area-weighted centroid, mean outward unit normal
    area_m2 : its area
    gap_m : mean distance to the partner's facet; negative where they overlap
    outline_m : (k, 3) its rim as a closed loop, counter-clockwise from outside; null where that is not known
    surface : the plainest that it lies on; null where that is not known
    how : how it was found and, where it is ambiguous, why, in words
    confidence : of the facet itself
    """

    kind: FacetKind
    element: str
    centroid_m: Array
    normal: Array
    area_m2: float
    gap_m: float
    outline_m: Array | None = None
    surface: FacetSurface | None = None
    how: str = ""
    confidence: Confidence = "found"


@dataclass(frozen=True, eq=False)
class Stop:
    """Where a movement about one axis ends.

    angle_rad : the signed joint angle
    reason : what ends it; `held` where the joint's family does not turn that way
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


@dataclass(frozen=True, eq=False)
class Envelope:
    """Which attitudes a joint may take, its three axes together; see `skeleton.envelope`.

    scale_rad : (3, 2) ends of flexion, lateral, axial that the directions are stretched by: the six limits
    shares : (258,) how far it reaches in each direction, as a share of the ellipsoid through the six limits
    """

    scale_rad: Array
    shares: Array


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


JointFamily = Literal["ball", "hinge", "paired condyles", "saddle"]
"""Of a limb's joint: three axes through a centre; one axis; one through two condyles; two that cross apart."""


@dataclass(frozen=True)
class JointFit:
    """The surface that a limb's joint was found by, and how far it may be believed.

    family : the plainest whose surface no other clearly beats
    element : the one whose facet it was fitted to
    radii_m : of the ball, or from the facet to each axis
    arcs_rad : how far the facet reaches round the centre or round each axis, from end to end
    residual_m : root mean square distance of its samples from the surface
    partner_opening_share : how far the partner's facet opens a radian as the joint turns, beyond what it would about
        axes of its own; a share of the radius
    """

    family: JointFamily
    element: str
    radii_m: tuple[float, ...]
    arcs_rad: tuple[float, ...]
    residual_m: float
    partner_opening_share: float


@dataclass(frozen=True)
class FrameUncertainty:
    """How far a joint's frame may be believed.

    centre_m : standard error of the centre; null: nothing pins it down
    axes_rad : of the axes; zero of a ball, whose axes are a convention; null: nothing pins them down
    rests_on : what they rest on, in words
    """

    centre_m: float | None
    axes_rad: float | None
    rests_on: str


@dataclass(frozen=True)
class FacetMark:
    """A facet that the user marked by hand.

    element : the one it lies on
    faces : numbers of faces of that element's file, counted from 0 as they stand in it: "0-17, 25, 40-99"
    kind : which facet of a vertebra it is; an articular surface of a joint of a limb, of the skull
    """

    element: str
    faces: str
    kind: FacetKind = "articular surface"


@dataclass(frozen=True, eq=False)
class Placing:
    """That the user has moved or turned a child against its parent: where it was scanned, and why it is not there.

    X_PE : (4, 4) from the child's frame E to its parent's, as scanned
    reason : in the user's words
    """

    X_PE: Array
    reason: str


@dataclass(frozen=True, eq=False)
class DiscThickness:
    """What the user has said of the disc in a joint: its child stands there at neutral, not where it was scanned.

    thickness_m : the mean gap of the two end plates
    shift_m : (3,) by which the child was moved along the column for it, in the parent's frame E
    reason : in the user's words
    """

    thickness_m: float
    shift_m: Array
    reason: str


@dataclass(frozen=True, eq=False)
class Joint:
    """The attachment of a child to its parent.

    X_WJ : (4, 4) joint frame in the world of the neutral articulation: x flexion axis, y long axis of the child
        away from the parent, z = x × y; origin at the joint's centre (for a fixed one: where it is cut)
    senses : +1 or -1 for flexion, lateral, axial (see spatial.rotations)
    limits : one AxisLimit for flexion, lateral, axial; None: not known
    envelope : what the three axes allow together, within the limits; None where the limits stand alone
    reason : how the joint was found, or why it is fixed, or what the user wrote
    settings : what the limits were computed with; None where they were not computed
    frame_uncertainty : how far the frame that the surfaces told may be believed, also where it is ambiguous; None where
        it was set by hand or nothing was looked for
    fit : of a limb's joint, what its surfaces told, also where that is ambiguous; None where none was looked for
    marks : the facets that it was found from, where the user marked them
    placing : None where the child stands against its parent as it was scanned
    also : of a fixed child that straddles two elements, the second: in a pose its place is the mean of what both make
        of it; its load goes to the parent; None where it follows the parent alone
    also_in_table : the second that the element table named: what differs from it was set by hand
    disc : None where its disc is as thick as the gap that was scanned
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
    fit: JointFit | None = None
    marks: tuple[FacetMark, ...] = ()
    placing: Placing | None = None
    also: str | None = None
    also_in_table: str | None = None
    envelope: Envelope | None = None
    frame_uncertainty: FrameUncertainty | None = None
    disc: DiscThickness | None = None

    @property
    def end_plates(self) -> tuple[Facet, ...]:
        """Its facets between centra."""
        return tuple(facet for facet in self.facets if facet.kind == "centrum")

    @property
    def gap_m(self) -> float | None:
        """Mean gap of its end plates at neutral: the thickness of its disc; None where it has none."""
        plates = self.end_plates
        return sum(plate.gap_m for plate in plates) / len(plates) if plates else None

    @property
    def moves(self) -> bool:
        """Whether the joint can turn at all."""
        return self.kind != "fixed"
