"""Actions besides self-weight in the loads of joints and feet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.build.materials import default_build
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.kinematics import move_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, build_skeleton
from core_calcs.statics.cuts import PointForces
from core_calcs.studies.assess import assess_prepared, place_contacts, prepare
from core_calcs.studies.loads import load_joints, solve_carried

ANYWHERE = Site(contact_tolerance_m=1e3)


def carry(prepared, pose, actions, contacts=None):
    """What is carried in a pose under actions, and the elements' motions."""
    motions = move_elements(prepared.skeleton, prepared.movers, pose)
    if contacts is None:
        contacts = place_contacts(prepared, motions, ANYWHERE, ())[1]
    bodies = prepared.bodies
    centres = (motions[:, :3, :3] @ bodies.centre_m[:, :, None])[:, :, 0] + motions[:, :3, 3]
    about = bodies.mass_kg @ centres / bodies.mass_kg.sum()
    return solve_carried(prepared, centres, about, contacts, 0.1, (), actions), motions


def make_balanced(random_skeletons, rng):
    while True:
        skeleton = random_skeletons.make_random_skeleton(40, rng, 6)
        pose = random_skeletons.make_random_pose(skeleton, rng)
        prepared = prepare(skeleton, default_build())
        found = assess_prepared(prepared, pose, ANYWHERE)
        if found.distance_margin_m is not None and found.distance_margin_m > 0.1:
            return prepared, pose, found


def make_actions(rng, count, weight):
    forces = rng.normal(size=(5, 3)) * weight * 0.002
    return PointForces(forces, rng.normal(size=(5, 3)), rng.integers(0, count, 5))


def test_cuts_under_actions_by_brute_force(random_skeletons, rng):
    """Uneven ground, forces every way: each joint's wrench is the sum over the branch, and nothing is left."""
    prepared, pose, found = make_balanced(random_skeletons, rng)
    weight = found.mass_kg * GRAVITY
    actions = make_actions(rng, 40, weight)
    level = carry(prepared, pose, actions)[0].contacts
    points = level.points_m.copy()
    points[:, 2] = rng.uniform(-0.05, 0.05, len(points))
    carried, motions = carry(prepared, pose, actions, replace(level, points_m=points, ground_m=points[:, 2]))
    assert carried.residual_N <= 1e-12 * weight
    assert carried.residual_Nm <= 1e-12 * weight
    assert carried.cut_error <= 1e-12
    pushes = np.column_stack([carried.reactions.horizontal_N, carried.reactions.forces_N])
    assert (carried.reactions.forces_N >= 0).all()
    parents = prepared.skeleton.parents
    masses = [(part.centre_m, [0, 0, -GRAVITY * part.mass_kg], i) for i, part in enumerate(found.masses)]
    acting = [*masses, *zip(points, pushes, level.body, strict=True)]
    acting += zip(actions.points_m, actions.forces_N, actions.body, strict=True)
    for i, joint in enumerate(load_joints(prepared, motions, carried), start=1):
        force, moment = np.zeros((2, 3))
        for point, own, body in acting:
            at = body
            while at not in (i, -1):
                at = parents[at]
            if at == i:
                force, moment = force + own, moment + np.cross(point - joint.point_m, own)
        np.testing.assert_allclose(joint.force_N, force, rtol=0, atol=1e-12 * weight)
        np.testing.assert_allclose(joint.moment_Nm, moment, rtol=0, atol=1e-12 * weight)


def test_the_weights_alone_push_nothing_along_the_ground(random_skeletons, rng):
    prepared, pose, _ = make_balanced(random_skeletons, rng)
    np.testing.assert_array_equal(carry(prepared, pose, None)[0].reactions.horizontal_N, 0)


def test_a_push_that_turns_the_whole_over_has_no_reactions(random_skeletons, rng):
    prepared, pose, found = make_balanced(random_skeletons, rng)
    push = [[found.mass_kg * GRAVITY, 0, 0]]
    actions = PointForces(np.array(push), found.centre_m[None] + [0, 0, 100.0], np.zeros(1, int))
    assert carry(prepared, pose, actions)[0].reactions is None


def test_a_push_presses_the_feet_behind_it(random_skeletons):
    """A block of side 2 on four feet, pushed at a height h along x: the pairs take W/2 ± H h/2, each foot pushes H/4 or
    its share of what it is pressed with."""
    solid = random_skeletons.make_solid(0.1, np.zeros(3), np.full(3, 0.5))
    feet = [Foot(f"{x} {y}", (Contact("block", np.array([[x, y, 0.0]])),)) for x in (-1, 1) for y in (-1, 1)]
    skeleton = build_skeleton("b", (random_skeletons.make_element("block", solid, np.eye(4)),), (), tuple(feet))
    prepared = prepare(skeleton, default_build())
    weight = prepared.bodies.mass_kg[0] * GRAVITY
    push, height = 0.2 * weight, 0.8
    actions = PointForces(np.array([[push, 0, 0]]), np.array([[0, 0, height]]), np.zeros(1, int))
    reactions = carry(prepared, Pose("p"), actions)[0].reactions
    behind, ahead = weight / 4 - push * height / 4, weight / 4 + push * height / 4
    np.testing.assert_allclose(reactions.forces_N, [behind, behind, ahead, ahead], rtol=1e-12)
    np.testing.assert_allclose(reactions.horizontal_N[:, 0], -push * reactions.forces_N / weight, rtol=1e-12)
    assert reactions.forces_N.sum() == pytest.approx(weight, rel=1e-12)
