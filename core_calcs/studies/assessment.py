"""What a study of one pose finds. SI units, world frame of the pose unless said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from ..build.build import Casting
from ..build.parts import PartKind
from ..spatial.transforms import Array
from .acted_figures import Acted
from .balance_figures import Balance
from .clearance import Clearance

State = Literal["holds", "close", "fails", "not known"]

SEVERITY: tuple[State, ...] = ("holds", "close", "not known", "fails")
"""The states from the best to the worst: a pose is as its worst check."""


@dataclass(frozen=True)
class Check:
    """One question answered.

    figure, limit : in the unit named; None where not known
    place : the worst place (joint, edge, element), empty where the check has none
    missing : what would have to be known, where the state is `not known`
    meaning : what the figure means in a plain sentence, where it does not tell by itself
    """

    name: str
    state: State
    figure: float | None
    limit: float | None
    unit: str
    place: str
    missing: str = ""
    meaning: str = ""


def name_told(checks: Sequence[Check]) -> tuple[str, ...]:
    """For every check the name of the first before it that is not known for want of the same; empty: none is."""
    first: dict[str, str] = {}
    lacking = [check.missing if check.state == "not known" else "" for check in checks]
    for check, what in zip(checks, lacking, strict=True):
        first.setdefault(what, check.name)
    names = [first[what] if what else "" for what in lacking]
    return tuple("" if name == check.name else name for check, name in zip(checks, names, strict=True))


@dataclass(frozen=True, eq=False)
class ElementMass:
    """Mass, centre and inertia (about the centre, world axes) of one element in the pose.

    casting, material : how it is cast, and of what
    metal_m3, calculated_kg : of the casting, by calculation
    pits_kg : how much less that is where pits narrower than the wall are passed over; None: not known
    weighed : mass_kg is what it was found to weigh
    """

    element: str
    mass_kg: float
    mass_uncertainty_kg: float
    centre_m: Array
    inertia_kg_m2: Array
    casting: Casting
    material: str
    metal_m3: float
    calculated_kg: float
    weighed: bool
    pits_kg: float | None


@dataclass(frozen=True, eq=False)
class PartMass:
    """Mass, centre and inertia (about the centre, world axes) in the pose of a disc or of steel in one element.

    name : of the disc's joint, or of the steelwork
    element : that carries it
    """

    name: str
    kind: PartKind
    element: str
    mass_kg: float
    mass_uncertainty_kg: float
    centre_m: Array
    inertia_kg_m2: Array
    weighed: bool


@dataclass(frozen=True, eq=False)
class JointLoad:
    """The wrench of the distal part (child and all it carries) on the proximal part at the joint's centre.

    force_N, moment_Nm : (3,) world axes; None: not known
    axial_N, shear_N, torsion_Nm, bending_Nm : the same in the joint's axes as the parent carries them: axial and
        torsion along y, the long axis of the child at neutral (tension > 0), shear and bending (2,) along or about
        the flexion axis x and the floating axis z
    force_range_N, moment_range_Nm : (2, 3) least and greatest world components, each taken alone, where the share of
        each foot is not determinate (rigid feet on a rigid base); None where it makes no difference
    """

    child: str
    parent: str
    point_m: Array
    force_N: Array | None
    moment_Nm: Array | None
    axial_N: float | None
    shear_N: Array | None
    torsion_Nm: float | None
    bending_Nm: Array | None
    force_range_N: Array | None
    moment_range_Nm: Array | None


@dataclass(frozen=True, eq=False)
class FootLoad:
    """What the ground carries under one foot: vertical force downwards on the ground.

    bears : whether the pose lets it
    points_m : (k, 3) corners of the standing outline, world; none where the foot is lifted or does not bear
    force_N : by vertical springs, every foot equally stiff and its corners sharing that, uplift released; 0 for a
        lifted or idle foot; None: not known
    range_N : (least, greatest) on a rigid base
    centre_m : (3,) of pressure; None where the foot is not loaded or not known
    """

    foot: str
    bears: bool
    points_m: Array
    force_N: float | None
    range_N: tuple[float, float] | None
    centre_m: Array | None


@dataclass(frozen=True, eq=False)
class Edge:
    """One edge of the support polygon.

    start_m, end_m : (2,) on the ground
    distance_m : from the centre of mass's ground point, > 0 inside
    tip_angle_rad : the tilt about this edge that brings the centre of mass over it, > 0 inside
    energy_J : the work that takes the centre of mass over this edge, > 0 inside
    """

    start_m: Array
    end_m: Array
    distance_m: float
    tip_angle_rad: float
    energy_J: float


@dataclass(frozen=True, eq=False)
class JointUse:
    """A joint's angle against its limits.

    angles_rad : (3,) flexion, lateral, axial
    beyond_rad : (3,) how far beyond each axis's own limit (0 inside); None where the limits are not known
    inside_rad : how far inside the bony range, all axes together: to its boundary, below zero outside; None likewise
    """

    child: str
    angles_rad: Array
    beyond_rad: Array | None
    inside_rad: float | None


@dataclass(frozen=True, eq=False)
class Summary:
    """The figures of one pose as a whole: what is shown while a bone is dragged.

    base_force_N, base_moment_Nm : (3,) of the whole on the ground, about datum_m (3,): the site's, else the middle of
        the support polygon (of what touches, where that is no polygon), else below the root's centre
    support_polygon_m : (k, 2) corners on the ground, counter-clockwise; fewer than three: it stands on none
    edges : one for each side of the support polygon
    distance_margin_m, tip_angle_rad : least over the edges, < 0 outside; None where there is no polygon
    residual_N, residual_Nm : what is left of equilibrium at the root with the foot reactions applied (own check);
        None where the reactions are not known
    clearance : what runs into what; None where nobody has looked
    balance : under what acts on it; None where it stands on no polygon
    """

    pose: str
    mass_kg: float
    mass_uncertainty_kg: float
    centre_m: Array
    inertia_kg_m2: Array
    feet: tuple[FootLoad, ...]
    base_force_N: Array
    base_moment_Nm: Array
    datum_m: Array
    support_polygon_m: Array
    edges: tuple[Edge, ...]
    distance_margin_m: float | None
    tip_angle_rad: float | None
    residual_N: float | None
    residual_Nm: float | None
    uses: tuple[JointUse, ...]
    checks: tuple[Check, ...]
    clearance: Clearance | None
    balance: Balance | None


@dataclass(frozen=True, eq=False)
class Uncertainties:
    """Half-widths, every source of the masses' uncertainties at its worst; None where the figure itself is not known.

    centre_m : (3,) of the centre of mass from where it stands
    base_moment_Nm : of the horizontal base moment about the datum
    distance_margin_m : of the least distance to an edge of the support polygon
    """

    centre_m: Array | None
    base_moment_Nm: float | None
    distance_margin_m: float | None


@dataclass(frozen=True, eq=False)
class Assessment(Summary):
    """All figures of one pose: with every element's mass, every joint's load, and what uncertain masses do to it.

    masses, joints : made when they are first asked for; the joints' loads under self-weight alone
    parts : discs and steelwork, which are not in the elements' masses
    acted : the worst of joints and beams under what else acts; None where nobody has looked
    """

    masses: Sequence[ElementMass]
    parts: tuple[PartMass, ...]
    joints: Sequence[JointLoad]
    uncertainties: Uncertainties
    acted: Acted | None
