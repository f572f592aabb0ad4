"""The study of one pose: what everything weighs, carries and rests on, and which checks hold."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..build.build import Build, Casting
from ..build.castings import find_material_of
from ..site.site import GRAVITY, Site
from ..skeleton.kinematics import measure_angles, move_elements
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array
from ..statics.contacts import Contacts, find_contacts
from ..statics.polygon import find_outline, find_polygon_centroid
from ..statics.stability import find_axes, measure_margins
from ..statics.supports import Supports, list_supports
from ..statics.wrenches import make_wrenches
from .acted_figures import Acted
from .acting import Acting, as_overturning, list_acting
from .assessment import Assessment, Edge, ElementMass, JointUse, PartMass, Summary
from .balance import study_balance
from .balance_figures import Stance
from .beams import find_beams
from .checks import Findings, make_checks
from .clearance import Clearance
from .effects import find_effects
from .later_rows import LaterRows
from .loads import Carried, load_feet, load_joints, place_joints, solve_carried
from .prepared import Prepared as Prepared
from .prepared import prepare as prepare
from .stops import measure_joints_inside
from .uncertainty import Balance, propagate_uncertainties
from .worst_loads import Cuts, list_worst


def assess(skeleton: Skeleton, pose: Pose, build: Build, site: Site) -> Assessment:
    """All figures of one pose.

    Raises
    ------
    SkeletonError : the pose turns what cannot turn, or an element cannot be weighed
    """
    return assess_prepared(prepare(skeleton, build), pose, site, with_worst=True)


def assess_prepared(
    prepared: Prepared,
    pose: Pose,
    site: Site,
    clearance: Clearance | None = None,
    acting: Acting | None = None,
    with_worst: bool = False,
    with_case_feet: bool = True,
) -> Assessment:
    """All figures of one pose of a prepared skeleton: the same as `assess`, for many poses of one skeleton.

    clearance : of the same pose; None where nobody has looked, which its check says
    acting : on the same pose, with what it shows to the wind; None: the site's pushes, pulls and people, wind not known
    with_worst : whether the worst of joints and beams is looked for, which takes longer than all the rest
    with_case_feet : whether what the feet carry is looked for in every combination, which nothing shows that follows a
        dragged bone
    """
    summary, placed, carried = _study(prepared, pose, site, clearance, acting, with_case_feet)
    masses = LaterRows(len(prepared.skeleton.elements), lambda: _list_masses(prepared, placed))
    joints = load_joints(prepared, placed.motions, carried)
    whole = (summary.mass_kg, summary.centre_m, summary.datum_m, summary.edges)
    uncertainties = propagate_uncertainties(prepared, Balance(placed.motions, *whole))
    parts = _list_part_masses(prepared, placed)
    found = Assessment(
        **vars(summary), masses=masses, parts=parts, joints=joints, uncertainties=uncertainties, acted=None
    )
    if not with_worst:
        return found
    acting = acting or list_acting(prepared.skeleton, placed.motions @ prepared.X_WE, site)
    return replace(found, acted=_find_acted(prepared, found, placed, carried, site, acting))


def _find_acted(
    prepared: Prepared, found: Assessment, placed: _Placed, carried: Carried, site: Site, acting: Acting
) -> Acted:
    """The worst of every joint and beam; nothing where it is not known with how much something acts."""
    if acting.unknown:
        return Acted((), (), tuple(f"{name}: {missing}" for name, missing in acting.unknown))
    supports = find_supports(prepared, site)
    effects = find_effects(prepared, placed.motions, placed.centres_m, carried, supports, acting.actions)
    index = {load.child: i for i, load in enumerate(found.joints, start=1)}
    axes = np.swapaxes(place_joints(prepared, placed.motions)[1:, :3, :3], -1, -2)[:, (1, 0, 2)]
    joints = Cuts("", tuple(index), np.arange(1, len(axes) + 1), axes)
    beams = [
        Cuts(
            beam.name,
            beam.joints,
            np.array([index[child] for child in beam.joints]),
            beam.senses[:, None, None] * beam.axes,
        )
        for beam in find_beams(prepared.skeleton, found)
    ]
    worst = list_worst(effects, site.factors, [joints, *beams])
    return Acted(tuple(own for own in worst if not own.chain), tuple(own for own in worst if own.chain))


def summarise_prepared(
    prepared: Prepared, pose: Pose, site: Site, clearance: Clearance | None = None, acting: Acting | None = None
) -> Summary:
    """The figures of the whole alone, as `assess_prepared` has them: for the row that follows a dragged bone."""
    return _study(prepared, pose, site, clearance, acting, True)[0]


@dataclass(frozen=True, eq=False)
class _Placed:
    """Motions (n, 4, 4) of the elements, and centres of mass (n, 3) in the pose of the bodies that they move."""

    motions: Array
    centres_m: Array


@dataclass(frozen=True, eq=False)
class _Whole:
    """Mass of the whole with its uncertainty, centre (3,) and inertia (3, 3) about it."""

    mass_kg: float
    mass_uncertainty_kg: float
    centre_m: Array
    inertia_kg_m2: Array


def _study(
    prepared: Prepared, pose: Pose, site: Site, clearance: Clearance | None, acting: Acting | None, with_case_feet: bool
) -> tuple[Summary, _Placed, Carried]:
    motions = move_elements(prepared.skeleton, prepared.movers, pose)
    placed, whole = _weigh_pose(prepared, motions)
    idle = tuple(prepared.skeleton.foot_index(name) for name in pose.idle_feet)
    points, contacts = place_contacts(prepared, motions, site, idle)
    corners = find_outline(contacts.points_m[:, :2])
    edges = _list_edges(contacts.on_ground_m[corners], whole)
    margin = min((edge.distance_m for edge in edges), default=None)
    supports = find_supports(prepared, site)
    carried = solve_carried(prepared, placed.centres_m, whole.centre_m, contacts, margin, idle, supports=supports)
    acting = acting or list_acting(prepared.skeleton, motions @ prepared.X_WE, site)
    balance = None
    if edges:
        stance = _find_stance(prepared, contacts, corners, supports, placed, whole)
        variable = [as_overturning(own) for own in acting.actions]
        balance = study_balance(stance, variable, site.factors, with_feet=with_case_feet)
    unknown = [f"{name}: {missing}" for name, missing in acting.unknown]
    datum = _find_datum(site, contacts.points_m[corners, :2], placed.centres_m[0])
    base = make_wrenches([0, 0, -GRAVITY * whole.mass_kg], whole.centre_m, datum)
    uses = _list_uses(prepared, pose, motions)
    feet = load_feet(prepared.skeleton, contacts, carried, idle)
    findings = Findings(prepared, site, motions, points, whole.centre_m, contacts, corners, idle, clearance)
    summary = Summary(
        pose=pose.name,
        mass_kg=whole.mass_kg,
        mass_uncertainty_kg=whole.mass_uncertainty_kg,
        centre_m=whole.centre_m,
        inertia_kg_m2=whole.inertia_kg_m2,
        feet=feet,
        base_force_N=base[:3],
        base_moment_Nm=base[3:],
        datum_m=datum,
        support_polygon_m=contacts.points_m[corners, :2],
        edges=edges,
        distance_margin_m=margin,
        tip_angle_rad=min((edge.tip_angle_rad for edge in edges), default=None),
        residual_N=carried.residual_N,
        residual_Nm=carried.residual_Nm,
        uses=uses,
        checks=make_checks(findings, edges, feet, uses, carried, balance, unknown),
        clearance=clearance,
        balance=balance,
    )
    return summary, placed, carried


def place_contacts(prepared: Prepared, motions: Array, site: Site, idle: Sequence[int]) -> tuple[Array, Contacts]:
    """Every point (c, 3) that may touch the ground, where the motions (n, 4, 4) put it, and those that bear.

    idle : the feet that do not, though they may touch
    """
    X = motions[prepared.contacts.body, :3]
    points: Array = np.einsum("cij,cj->ci", X[:, :, :3], prepared.contacts.points_m) + X[:, :, 3]
    return points, find_standing(prepared, points, site, idle)


def find_standing(prepared: Prepared, points: Array, site: Site, idle: Sequence[int]) -> Contacts:
    """What bears of all points (c, 3) that may touch the ground, where a pose has them."""
    heights = find_supports(prepared, site).height_m.tolist() if site.footings else ()
    return find_contacts(points, prepared.contacts.foot, prepared.contacts.body, site, idle, heights)


def find_supports(prepared: Prepared, site: Site) -> Supports:
    """What is under every foot."""
    return list_supports([foot.name for foot in prepared.skeleton.feet], site.footings, site.friction)


def _find_stance(
    prepared: Prepared, contacts: Contacts, corners: np.ndarray, supports: Supports, placed: _Placed, whole: _Whole
) -> Stance:
    feet = tuple(foot.name for foot in prepared.skeleton.feet)
    weights = GRAVITY * prepared.bodies.mass_kg
    return Stance(contacts, corners, feet, supports, weights, placed.centres_m, whole.centre_m)


def _weigh_pose(prepared: Prepared, motions: Array) -> tuple[_Placed, _Whole]:
    """Where every element's mass is in the pose, and the mass of the whole."""
    bodies, R = prepared.bodies, motions[:, :3, :3]
    mass = bodies.mass_kg
    centres = (R @ bodies.centre_m[:, :, None])[:, :, 0] + motions[:, :3, 3]
    inertias = R @ bodies.inertia_kg_m2 @ np.swapaxes(R, -1, -2)
    # About the mean of the centres: no digits are lost to a site far from the origin.
    total, middle = float(mass.sum()), centres.mean(axis=0)
    centre = middle + (mass @ (centres - middle) / total if total > 0 else 0.0)
    r = centres - centre
    moved = (r * r).sum(axis=1)[:, None, None] * np.eye(3) - r[:, :, None] * r[:, None, :]
    inertia = (inertias + mass[:, None, None] * moved).sum(axis=0)
    whole = _Whole(total, float(bodies.uncertainty_kg.sum()), centre, inertia)
    return _Placed(motions, centres), whole


def _list_masses(prepared: Prepared, placed: _Placed) -> tuple[ElementMass, ...]:
    weights, R = prepared.weights, placed.motions[:, :3, :3]
    centres = (R @ weights.centre_m[:, :, None])[:, :, 0] + placed.motions[:, :3, 3]
    inertias = R @ weights.inertia_kg_m2 @ np.swapaxes(R, -1, -2)
    names = [element.name for element in prepared.skeleton.elements]
    masses = (weights.mass_kg.tolist(), weights.uncertainty_kg.tolist())
    parts = zip(names, *masses, centres, inertias, _list_cast(prepared), strict=True)
    return tuple(ElementMass(*own, *cast) for *own, cast in parts)


def _list_cast(prepared: Prepared) -> list[tuple[Casting, str, float, float, bool, float | None]]:
    """How each element is cast, and what that weighs by calculation."""
    weights = prepared.weights
    materials = [find_material_of(prepared.build, casting) for casting in weights.castings]
    pits = [
        None if math.isnan(m3) else material.density_kg_m3 * m3
        for material, m3 in zip(materials, weights.pits_m3.tolist(), strict=True)
    ]
    figures = (weights.metal_m3.tolist(), weights.calculated_kg.tolist(), weights.weighed.tolist(), pits)
    return list(zip(weights.castings, [material.name for material in materials], *figures, strict=True))


def _list_part_masses(prepared: Prepared, placed: _Placed) -> tuple[PartMass, ...]:
    """Discs and steelwork where the pose puts them."""
    found = []
    for part in prepared.parts:
        X = placed.motions[part.body]
        carrier = prepared.skeleton.elements[part.body].name
        centre, inertia = X[:3, :3] @ part.centre_m + X[:3, 3], X[:3, :3] @ part.inertia_kg_m2 @ X[:3, :3].T
        masses = (part.mass_kg, part.uncertainty_kg)
        found.append(PartMass(part.name, part.kind, carrier, *masses, centre, inertia, part.weighed))
    return tuple(found)


def _list_edges(corners: Array, whole: _Whole) -> tuple[Edge, ...]:
    """Edges over the corners (k, 3) of the support polygon where they meet the ground."""
    if len(corners) < 3:
        return ()
    margins = measure_margins(find_axes(corners), whole.centre_m, whole.mass_kg * GRAVITY)
    figures = (margins.distance_m.tolist(), margins.tip_angle_rad.tolist(), margins.energy_J.tolist())
    plan = corners[:, :2]
    return tuple(Edge(*edge) for edge in zip(plan, np.roll(plan, -1, axis=0), *figures, strict=True))


def _find_datum(site: Site, polygon: Array, root_centre: Array) -> Array:
    if site.datum_m is not None:
        return np.array(site.datum_m, float)
    middle = find_polygon_centroid(polygon) if len(polygon) else root_centre[:2]
    return np.array([*middle, site.ground_m])


def _list_uses(prepared: Prepared, pose: Pose, motions: Array) -> tuple[JointUse, ...]:
    """Angles of every joint that moves against its limits; of a pose as mounted those at which the elements stand."""
    moving, joints = prepared.turning, prepared.turning_joints
    neutral = np.zeros(3)
    if pose.mounted:
        angles = measure_angles(prepared.skeleton, motions, moving.tolist())
    else:
        angles = np.array([pose.angles_rad.get(joint.child, neutral) for joint in joints], float).reshape(-1, 3)
    low, high = prepared.low_rad[moving], prepared.high_rad[moving]
    beyond = np.maximum(np.maximum(angles - high, low - angles), 0)
    inside = measure_joints_inside(joints, low, high, angles)
    return tuple(
        JointUse(joint.child, own, None if joint.limits is None else over, within)
        for joint, own, over, within in zip(joints, angles, beyond, inside, strict=True)
    )
