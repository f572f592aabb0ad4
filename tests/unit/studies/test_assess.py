"""One pose studied: against mujoco, brute force, linear programming, and laws that hold for every body at rest."""

from __future__ import annotations

from dataclasses import is_dataclass, replace

import numpy as np
import pytest
from scipy.optimize import linprog

from core_calcs.build.materials import default_build
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.kinematics import joint_motions, place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, build_skeleton
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.assess import assess, assess_prepared, prepare, summarise_prepared

BUILD = default_build()
ANYWHERE = Site(contact_tolerance_m=1e3, datum_m=(0.3, -0.2, 0.4))
"""A ground that every foot stands on, wherever it is."""


def find_balanced(random_skeletons, rng, count=40, feet=6):
    """A random skeleton in a random pose whose centre of mass is over its feet."""
    while True:
        skeleton = random_skeletons.make_random_skeleton(count, rng, feet)
        pose = random_skeletons.make_random_pose(skeleton, rng)
        found = assess(skeleton, pose, BUILD, ANYWHERE)
        if found.distance_margin_m is not None and found.distance_margin_m > 0.02:
            return skeleton, pose, found


def find_check(assessment, name):
    (check,) = [check for check in assessment.checks if check.name == name]
    return check


@pytest.mark.parametrize(("count", "bushy"), [(2, 1), (20, 1), (60, 4), (60, 30)])
def test_free_branches_agree_with_mujoco(random_skeletons, mujoco_oracle, rng, count, bushy):
    skeleton = random_skeletons.make_random_skeleton(count, rng, 0, bushy)
    pose = random_skeletons.make_random_pose(skeleton, rng)
    ours = assess(skeleton, pose, BUILD, Site())
    model = mujoco_oracle.make_model(skeleton, BUILD)
    data = mujoco_oracle.pose_model(model, skeleton, pose)
    np.testing.assert_allclose(ours.mass_kg, model.body_mass.sum(), rtol=1e-12)
    size = np.ptp([joint.point_m for joint in ours.joints], axis=0).max() + 1
    np.testing.assert_allclose(ours.centre_m, data.subtree_com[0], rtol=0, atol=1e-12 * size)
    for joint in ours.joints:
        theirs = mujoco_oracle.read_moment(model, data, joint.child)
        np.testing.assert_allclose(joint.moment_Nm, theirs, rtol=0, atol=1e-9 * np.abs(theirs).max())
        mass = model.body_subtreemass[model.body(joint.child).id]
        np.testing.assert_allclose(joint.force_N, [0, 0, -GRAVITY * mass], rtol=1e-12)


def test_every_cut_is_the_same_from_both_sides(random_skeletons, rng):
    """Each cut by brute force: what acts on either part, one body and one contact after the other."""
    skeleton, _pose, found = find_balanced(random_skeletons, rng)
    children = {joint.child: joint.parent for joint in skeleton.joints}
    # The springs' share of every contact: one point a foot, so the foot's own force.
    pushes = [
        (foot.points_m[0], foot.force_N, skeleton.feet[f].contacts[0].element) for f, foot in enumerate(found.feet)
    ]

    def is_beyond(name, child):
        while name != child and name in children:
            name = children[name]
        return name == child

    weight = found.mass_kg * GRAVITY
    for joint in found.joints:
        sides = {True: np.zeros(6), False: np.zeros(6)}
        for part in found.masses:
            force = np.array([0, 0, -GRAVITY * part.mass_kg])
            side = sides[is_beyond(part.element, joint.child)]
            side += np.concatenate([force, np.cross(part.centre_m - joint.point_m, force)])
        for point, force_N, element in pushes:
            force = np.array([0, 0, force_N])
            side = sides[is_beyond(element, joint.child)]
            side += np.concatenate([force, np.cross(point - joint.point_m, force)])
        ours = np.concatenate([joint.force_N, joint.moment_Nm])
        np.testing.assert_allclose(ours, sides[True], rtol=0, atol=1e-9 * weight)
        np.testing.assert_allclose(ours, -sides[False], rtol=0, atol=1e-9 * weight)


def test_nothing_is_left_at_the_root(random_skeletons, rng):
    for _ in range(5):
        _, _, found = find_balanced(random_skeletons, rng)
        weight = found.mass_kg * GRAVITY
        assert found.residual_N <= 1e-9 * weight
        assert found.residual_Nm <= 1e-9 * weight
        assert sum(foot.force_N for foot in found.feet) == pytest.approx(weight, rel=1e-12)
        assert find_check(found, "Equilibrium").state == "holds"


def test_joint_axes_turn_with_the_parent(random_skeletons, rng):
    skeleton, pose, found = find_balanced(random_skeletons, rng)
    motions = joint_motions(skeleton, pose)
    for i, (joint, load) in enumerate(zip(skeleton.joints, found.joints, strict=True), start=1):
        x, y, z = (motions[skeleton.parents[i]] @ joint.X_WJ)[:3, :3].T
        along = (load.axial_N, *load.shear_N, load.torsion_Nm, *load.bending_Nm)
        f, m = load.force_N, load.moment_Nm
        np.testing.assert_allclose(along, (f @ y, f @ x, f @ z, m @ y, m @ x, m @ z), rtol=1e-9, atol=1e-6)


def test_hanging_weight_pulls_and_standing_weight_presses(random_skeletons):
    """Sign of the axial force: a limb that hangs pulls (> 0), a column under its load is pressed (< 0)."""
    solid = random_skeletons.make_solid(0.01, np.zeros(3), np.full(3, 0.1))
    down = np.array([[1, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 1.0], [0, 0, 0, 1]])  # y of the joint points down
    elements = [
        random_skeletons.make_element(name, solid, make_transform(np.eye(3), [0, 0, z]))
        for name, z in (("trunk", 1.5), ("limb", 0.5))
    ]
    joint = random_skeletons.make_joint("trunk", "limb", down)
    square = np.array([[x, y, -0.5] for x in (-1, 1) for y in (-1, 1)])
    foot = Foot("foot", (Contact("limb", square),))
    weight = 0.01 * BUILD.material.density_kg_m3 * GRAVITY
    hanging = assess(build_skeleton("s", tuple(elements), (joint,)), Pose("p"), BUILD, Site())
    standing = assess(build_skeleton("s", tuple(elements), (joint,), (foot,)), Pose("p"), BUILD, Site())
    assert hanging.joints[0].axial_N == pytest.approx(weight)
    assert standing.joints[0].axial_N == pytest.approx(-weight)


def test_moment_range_is_that_of_linear_programming(random_skeletons, rng):
    skeleton, _pose, found = find_balanced(random_skeletons, rng)
    children = {joint.child: joint.parent for joint in skeleton.joints}
    points = np.array([foot.points_m[0] for foot in found.feet])
    holders = [foot.contacts[0].element for foot in skeleton.feet]
    weight = found.mass_kg * GRAVITY
    equal = np.vstack([np.ones(len(points)), points[:, 0], points[:, 1]])
    right = weight * np.array([1, found.centre_m[0], found.centre_m[1]])

    def is_beyond(name, child):
        while name != child and name in children:
            name = children[name]
        return name == child

    compared = 0
    for joint in found.joints:
        beyond = np.array([is_beyond(name, joint.child) for name in holders])
        if joint.moment_range_Nm is None:
            assert not beyond.any() or beyond.all()
            continue
        own = [part for part in found.masses if is_beyond(part.element, joint.child)]
        dead = sum(np.cross(p.centre_m - joint.point_m, [0, 0, -GRAVITY * p.mass_kg]) for p in own)
        arms = np.cross(points - joint.point_m, [0, 0, 1.0]) * beyond[:, None]
        for axis in (0, 1):
            for end, sign in ((0, 1), (1, -1)):
                best = linprog(sign * arms[:, axis], A_eq=equal, b_eq=right).fun
                assert joint.moment_range_Nm[end, axis] == pytest.approx(dead[axis] + sign * best, abs=1e-6 * weight)
        spread = joint.moment_range_Nm
        slack = 1e-9 * weight
        assert (spread[0] - slack <= joint.moment_Nm).all()
        assert (joint.moment_Nm <= spread[1] + slack).all()
        compared += 1
    assert compared >= 2


def test_three_point_feet_have_no_range(random_skeletons, rng):
    _, _, found = find_balanced(random_skeletons, rng, feet=3)
    assert all(joint.moment_range_Nm is None for joint in found.joints)
    for foot in found.feet:
        assert foot.range_N == pytest.approx((foot.force_N, foot.force_N))


def collect_scalars(found):
    """Figures that no movement along the ground may change."""
    figures = [found.mass_kg, found.centre_m[2], found.distance_margin_m, found.tip_angle_rad]
    figures += [edge.energy_J for edge in found.edges]
    figures += [foot.force_N for foot in found.feet] + [end for foot in found.feet for end in foot.range_N]
    for joint in found.joints:
        figures += [joint.axial_N, *joint.shear_N, joint.torsion_Nm, *joint.bending_Nm]
    return np.array(figures)


@pytest.mark.parametrize(("turn_rad", "shift"), [(0.7, (0, 0)), (0, (3.0, -2.0)), (2.5, (1e4, 2e4))])
def test_moving_the_whole_on_the_ground_changes_nothing(random_skeletons, rng, turn_rad, shift):
    skeleton, pose, found = find_balanced(random_skeletons, rng)
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    X = make_transform([[c, -s, 0], [s, c, 0], [0, 0, 1]], [*shift, 0])
    moved = assess(skeleton, replace(pose, X_WN=X @ pose.X_WN), BUILD, ANYWHERE)
    ours, theirs = collect_scalars(found), collect_scalars(moved)
    # The hull may begin at another corner: edges are compared as a set.
    k = len(found.edges)
    for figures in (ours, theirs):
        figures[4 : 4 + k] = np.sort(figures[4 : 4 + k])
    weight = found.mass_kg * GRAVITY
    np.testing.assert_allclose(theirs, ours, rtol=1e-9, atol=1e-10 * weight)
    np.testing.assert_allclose(moved.centre_m, X[:3, :3] @ found.centre_m + X[:3, 3], rtol=1e-12, atol=1e-9)


def test_scale_goes_with_its_powers(random_skeletons, rng):
    skeleton, pose, found = find_balanced(random_skeletons, rng)
    s = 8.0
    large = assess(random_skeletons.scale_skeleton(skeleton, s), pose, BUILD, ANYWHERE)
    assert large.mass_kg == pytest.approx(found.mass_kg * s**3, rel=1e-12)
    assert large.distance_margin_m == pytest.approx(found.distance_margin_m * s, rel=1e-9)
    np.testing.assert_allclose(large.inertia_kg_m2, found.inertia_kg_m2 * s**5, rtol=1e-9, atol=1e-6)
    weight = large.mass_kg * GRAVITY
    for ours, theirs in zip(found.joints, large.joints, strict=True):
        np.testing.assert_allclose(theirs.force_N, ours.force_N * s**3, rtol=0, atol=1e-9 * weight)
        np.testing.assert_allclose(theirs.moment_Nm, ours.moment_Nm * s**4, rtol=0, atol=1e-9 * weight * s)


def test_mirrored_body_carries_mirrored_loads(random_skeletons, rng):
    """Across the x-z plane: shares, margins and bending stay, moments about x and z turn round."""
    skeleton, pose, found = find_balanced(random_skeletons, rng)
    M = np.diag([1.0, -1.0, 1.0])
    X_WE = place_elements(skeleton, pose)
    motions = joint_motions(skeleton, pose)
    elements, joints = [], []
    for i, element in enumerate(skeleton.elements):
        solid = element.solid
        R, p = X_WE[i, :3, :3], X_WE[i, :3, 3]
        # The mirrored surface in world axes, its frame at the origin.
        mirrored = replace(
            solid,
            centre_m=M @ (R @ solid.centre_m + p),
            inertia_m5=M @ R @ solid.inertia_m5 @ R.T @ M,
        )
        elements.append(replace(element, solid=mirrored, X_WE=np.eye(4)))
    for i, joint in enumerate(skeleton.joints, start=1):
        X = motions[skeleton.parents[i]] @ joint.X_WJ
        joints.append(replace(joint, X_WJ=make_transform(np.eye(3), M @ X[:3, 3])))
    feet = []
    for foot in skeleton.feet:
        (contact,) = foot.contacts
        X = X_WE[skeleton.index(contact.element)]
        feet.append(Foot(foot.name, (Contact(contact.element, (contact.points_m @ X[:3, :3].T + X[:3, 3]) @ M),)))
    mirrored = build_skeleton("mirrored", tuple(elements), tuple(joints), tuple(feet))
    other = assess(mirrored, Pose("as built"), BUILD, ANYWHERE)
    assert other.distance_margin_m == pytest.approx(found.distance_margin_m)
    np.testing.assert_allclose(other.centre_m, M @ found.centre_m, atol=1e-12)
    weight = found.mass_kg * GRAVITY
    for ours, theirs in zip(found.feet, other.feet, strict=True):
        assert theirs.force_N == pytest.approx(ours.force_N, abs=1e-9 * weight)
    loads = {joint.child: joint for joint in other.joints}
    for joint in found.joints:
        theirs = loads[joint.child]
        np.testing.assert_allclose(theirs.moment_Nm, -M @ joint.moment_Nm, rtol=0, atol=1e-9 * weight)


def test_base_carries_the_weight_about_the_datum(random_skeletons, rng):
    _, _, found = find_balanced(random_skeletons, rng)
    weight = found.mass_kg * GRAVITY
    np.testing.assert_allclose(found.base_force_N, [0, 0, -weight], rtol=1e-12)
    x, y = found.centre_m[:2] - ANYWHERE.datum_m[:2]
    np.testing.assert_allclose(found.base_moment_Nm, [-y * weight, x * weight, 0], rtol=1e-9)
    np.testing.assert_allclose(found.datum_m, ANYWHERE.datum_m)


def test_prepared_gives_the_same(random_skeletons, rng):
    skeleton, pose, found = find_balanced(random_skeletons, rng)
    again = assess_prepared(prepare(skeleton, BUILD), pose, ANYWHERE)
    np.testing.assert_array_equal(collect_scalars(found), collect_scalars(again))


def test_summary_is_the_assessment_without_its_lists(random_skeletons, rng):
    skeleton, pose, found = find_balanced(random_skeletons, rng)
    summary = summarise_prepared(prepare(skeleton, BUILD), pose, ANYWHERE)
    assert set(vars(found)) - set(vars(summary)) == {"masses", "parts", "joints", "uncertainties", "acted"}
    for name, value in vars(summary).items():
        np.testing.assert_equal(_plain(value), _plain(getattr(found, name)))


def _plain(value):
    """Dataclasses as dictionaries, which numpy compares piece by piece."""
    if isinstance(value, tuple):
        return [_plain(part) for part in value]
    if is_dataclass(value):
        return {name: _plain(part) for name, part in vars(value).items()}
    return value


def test_pose_that_contradicts_the_skeleton_is_refused(random_skeletons, rng):
    skeleton = random_skeletons.make_random_skeleton(5, rng)
    with pytest.raises(SkeletonError, match="nobody"):
        assess(skeleton, Pose("p", {"nobody": np.zeros(3)}), BUILD, Site())


def test_element_without_a_number_for_volume_is_refused(random_skeletons, rng):
    skeleton = random_skeletons.make_random_skeleton(3, rng, 0)
    element = skeleton.elements[1]
    faulty = replace(element, solid=replace(element.solid, volume_m3=float("nan")))
    with pytest.raises(SkeletonError, match=element.name):
        assess(
            replace(skeleton, elements=(skeleton.elements[0], faulty, skeleton.elements[2])), Pose("p"), BUILD, Site()
        )
