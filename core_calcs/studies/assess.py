"""The study of one pose: what everything weighs, carries and rests on, and which checks hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..build.build import Build
from ..build.weights import Weights, weigh_elements
from ..skeleton.kinematics import joint_motions
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array
from ..statics.contacts import find_contacts
from ..statics.site import GRAVITY, Site
from ..statics.stability import find_outline, find_polygon_centroid, measure_margins
from ..statics.wrenches import find_preorder, make_wrenches
from .assessment import Assessment, Edge, ElementMass, JointUse
from .checks import Findings, make_checks
from .loads import load_feet, load_joints, solve_carried


@dataclass(frozen=True, eq=False)
class Prepared:
    """What depends on skeleton and build alone, kept while poses change. World of the neutral articulation.

    parents, order, ends : (n,) the tree, and its branches as slices
    X_WJ : (n, 4, 4) joint frames; the root's is the identity at its centre of mass
    contact_m, contact_foot, contact_body : (c, 3), (c,), (c,) every point that may touch the ground
    low_rad, high_rad : (n, 3) limits; NaN where not known, and for the root
    """

    skeleton: Skeleton
    build: Build
    weights: Weights
    parents: np.ndarray
    order: np.ndarray
    ends: np.ndarray
    X_WJ: Array
    contact_m: Array
    contact_foot: np.ndarray
    contact_body: np.ndarray
    low_rad: Array
    high_rad: Array


def prepare(skeleton: Skeleton, build: Build) -> Prepared:
    """Do once what all poses share; raises SkeletonError where an element cannot be weighed."""
    weights = weigh_elements(skeleton, build)
    parents = skeleton.parents
    order, ends = find_preorder(parents)
    X_WJ = np.stack([np.eye(4), *(joint.X_WJ for joint in skeleton.joints)])
    X_WJ[0, :3, 3] = weights.centre_m[0]
    limits = np.full((2, len(parents), 3), np.nan)
    for i, joint in enumerate(skeleton.joints, start=1):
        if joint.limits is not None:
            limits[0, i] = [limit.low.angle_rad for limit in joint.limits]
            limits[1, i] = [limit.high.angle_rad for limit in joint.limits]
    points, foot, body = [np.zeros((0, 3))], [], []
    for f, declared in enumerate(skeleton.feet):
        for contact in declared.contacts:
            i = skeleton.index(contact.element)
            X_WE, count = skeleton.elements[i].X_WE, len(contact.points_m)
            points.append(np.asarray(contact.points_m, float).reshape(-1, 3) @ X_WE[:3, :3].T + X_WE[:3, 3])
            foot += [f] * count
            body += [i] * count
    return Prepared(
        skeleton,
        build,
        weights,
        parents,
        order,
        ends,
        X_WJ,
        np.concatenate(points),
        np.array(foot, int),
        np.array(body, int),
        limits[0],
        limits[1],
    )


def assess(skeleton: Skeleton, pose: Pose, build: Build, site: Site) -> Assessment:
    """All figures of one pose; raises SkeletonError where pose or elements contradict the skeleton."""
    return assess_prepared(prepare(skeleton, build), pose, site)


def assess_prepared(prepared: Prepared, pose: Pose, site: Site) -> Assessment:
    """All figures of one pose of a prepared skeleton."""
    skeleton, weights = prepared.skeleton, prepared.weights
    motions = joint_motions(skeleton, pose)
    R, shift = motions[:, :3, :3], motions[:, :3, 3]
    centres = (R @ weights.centre_m[:, :, None])[:, :, 0] + shift
    inertias = R @ weights.inertia_kg_m2 @ np.swapaxes(R, -1, -2)
    mass = float(weights.mass_kg.sum())
    centre, inertia = _find_whole(weights.mass_kg, centres, inertias)

    body = prepared.contact_body
    points = (R[body] @ prepared.contact_m[:, :, None])[:, :, 0] + shift[body]
    contacts = find_contacts(points, prepared.contact_foot, body, site)
    corners = find_outline(contacts.points_m[:, :2])
    polygon = contacts.points_m[corners, :2]
    edges = _list_edges(polygon, centre, mass * GRAVITY, site)
    margin = min((edge.distance_m for edge in edges), default=None)
    datum = _find_datum(site, polygon, centres[0])

    gravity = np.zeros((len(centres), 3))
    gravity[:, 2] = -GRAVITY * weights.mass_kg
    carried = solve_carried(
        prepared.parents, prepared.order, prepared.ends, gravity, centres, centre, contacts, margin, body
    )
    X_parent = motions[np.maximum(prepared.parents, 0)] @ prepared.X_WJ
    whole = make_wrenches([0, 0, -GRAVITY * mass], centre, datum)
    uses = _list_uses(prepared, pose)
    feet = load_feet(skeleton, contacts, carried, site)
    findings = Findings(
        skeleton, site, weights, motions, points, prepared.contact_foot, body, centre, contacts, corners
    )
    return Assessment(
        pose=pose.name,
        masses=_list_masses(prepared, centres, inertias),
        mass_kg=mass,
        mass_doubt_kg=float(weights.doubt_kg.sum()),
        centre_m=centre,
        inertia_kg_m2=inertia,
        joints=load_joints(skeleton, X_parent, carried),
        feet=feet,
        base_force_N=whole[:3],
        base_moment_Nm=whole[3:],
        datum_m=datum,
        support_polygon_m=polygon,
        edges=edges,
        distance_margin_m=margin,
        tip_angle_rad=min((edge.tip_angle_rad for edge in edges), default=None),
        residual_N=carried.residual_N,
        residual_Nm=carried.residual_Nm,
        uses=uses,
        checks=make_checks(findings, edges, feet, uses, carried),
    )


def _find_whole(mass: Array, centres: Array, inertias: Array) -> tuple[Array, Array]:
    """Centre of mass (3,) and inertia (3, 3) about it; the mean of the centres where nothing has any mass."""
    total = mass.sum()
    middle = centres.mean(axis=0)
    centre = middle + (mass @ (centres - middle) / total if total > 0 else 0.0)
    r = centres - centre
    moved = (r * r).sum(axis=1)[:, None, None] * np.eye(3) - r[:, :, None] * r[:, None, :]
    inertia: Array = (inertias + mass[:, None, None] * moved).sum(axis=0)
    return centre, inertia


def _list_edges(polygon: Array, centre: Array, weight_N: float, site: Site) -> tuple[Edge, ...]:
    if len(polygon) < 3:
        return ()
    margins = measure_margins(polygon, centre, weight_N, site.ground_m)
    following = np.roll(polygon, -1, axis=0)
    return tuple(
        Edge(start, end, float(distance), float(angle), float(energy))
        for start, end, distance, angle, energy in zip(
            polygon, following, margins.distance_m, margins.tip_angle_rad, margins.energy_J, strict=True
        )
    )


def _find_datum(site: Site, polygon: Array, root_centre: Array) -> Array:
    if site.datum_m is not None:
        return np.array([*site.datum_m, site.ground_m])
    middle = find_polygon_centroid(polygon) if len(polygon) else root_centre[:2]
    return np.array([*middle, site.ground_m])


def _list_masses(prepared: Prepared, centres: Array, inertias: Array) -> tuple[ElementMass, ...]:
    weights = prepared.weights
    rows = zip(
        prepared.skeleton.elements, weights.mass_kg.tolist(), weights.doubt_kg.tolist(), centres, inertias, strict=True
    )
    return tuple(ElementMass(element.name, *row) for element, *row in rows)


def _list_uses(prepared: Prepared, pose: Pose) -> tuple[JointUse, ...]:
    """Angles of every joint that moves against its limits."""
    joints = prepared.skeleton.joints
    angles = np.zeros((len(joints), 3))
    for i, joint in enumerate(joints):
        if joint.child in pose.angles_rad:
            angles[i] = pose.angles_rad[joint.child]
    beyond = np.maximum(np.maximum(angles - prepared.high_rad[1:], prepared.low_rad[1:] - angles), 0)
    return tuple(
        JointUse(joint.child, angles[i], None if joint.limits is None else beyond[i])
        for i, joint in enumerate(joints)
        if joint.moves
    )
