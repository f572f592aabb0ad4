"""Rigid bodies at rest: reactions, chains of links, composites, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog

from core_calcs.build.build import Build, Material
from core_calcs.build.materials import find_material
from core_calcs.mesh.solid import Solid
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.joint import Joint
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, build_skeleton
from core_calcs.spatial.transforms import apply, make_transform
from core_calcs.statics.reactions import find_reaction_vertices, solve_springs
from core_calcs.studies.assess import assess

RIGID = "closed form: equilibrium of a rigid body on equal springs"
STATICS = "closed form: equilibrium of a rigid body"
RECTANGLE = np.array([[2, 1], [-2, 1], [-2, -1], [2, -1]], float)
UNIT = Build(Material("unit weight", 1.0, 0.0, "made up: a volume of 1 m³ weighs 1 kg"))


def make_element(name, mass_kg, centre_m, X_WE=None):
    solid = Solid(mass_kg, 0.0, np.array(centre_m, float), np.eye(3), np.zeros(3), np.zeros(3), 12, ("closed",))
    source = Source(f"{name}.stl", None, 1.0, "0" * 64)
    return Element(name, "other", None, "middle", "not known", source, solid, np.eye(4) if X_WE is None else X_WE)


def assess_block(weight_N, centre_m, points):
    """A single body of that weight on one point foot for each of the ground points."""
    feet = tuple(
        Foot(f"foot {k}", (Contact("block", np.array([[*point, 0.0]])),)) for k, point in enumerate(np.array(points))
    )
    skeleton = build_skeleton("block", (make_element("block", weight_N / GRAVITY, centre_m),), (), feet)
    return assess(skeleton, Pose("as built"), UNIT, Site())


def test_four_equal_springs(check_value):
    found = assess_block(50.0, (0.3, 0.1, 2.0), RECTANGLE)
    # (2, 1), (-2, 1), (-2, -1), (2, -1)
    expected = [15.625, 11.875, 9.375, 13.125]
    check_value("four equal springs, W 50 at (.3, .1)", RIGID, "D", expected, [f.force_N for f in found.feet], rel=1e-9)


def test_three_legs(check_value):
    found = assess_block(50.0, (0.3, 0.1, 2.0), [[2, 1], [-2, 1], [0, -1.5]])
    forces = [foot.force_N for foot in found.feet]
    check_value("three legs, W 50 at (.3, .1)", STATICS, "D", [19.75, 12.25, 18.0], forces, rel=1e-9)
    for foot, force in zip(found.feet, (19.75, 12.25, 18.0), strict=True):
        check_value(f"three legs: {foot.foot} has no range", STATICS, "D", [force] * 2, foot.range_N, rel=1e-9)


def test_four_rigid_feet_share_as_they_like(check_value):
    found = assess_block(50.0, (0, 0, 2.0), RECTANGLE)
    source = "closed form: rigid feet on a rigid base, W centred: any foot from 0 to W/2"
    for foot in found.feet:
        check_value(f"range of {foot.foot} of four, W 50", source, "D", [0.0, 25.0], foot.range_N, rel=1e-9, abs=1e-9)


def test_uplift_is_released(check_value):
    """By linear springs the foot behind would pull: its share is -4.75 without release."""
    points = np.array([[1, 1], [1, -1], [0, 0], [-3, 0]], float)
    rows = np.column_stack([np.ones(4), points])
    linear = rows @ np.linalg.solve(rows.T @ rows, 50.0 * np.array([1, 0.95, 0]))
    assert linear[3] < 0
    # Without that foot three legs are left: closed form by moments about the line of the two in front.
    forces = [foot.force_N for foot in assess_block(50.0, (0.95, 0, 2.0), points).feet]
    expected = [23.75, 23.75, 2.5, 0.0]
    check_value("uplift released, never tension", STATICS, "D", expected, forces, rel=1e-9, abs=1e-9)


def test_range_of_six_feet_by_linear_programming(check_value):
    rng = np.random.default_rng(3)
    points = rng.normal(size=(6, 2))
    centre = points.mean(axis=0)
    corners, forces = find_reaction_vertices(points, 50.0, centre)
    rows = np.column_stack([np.ones(6), points - centre])
    for k in range(6):
        ours = (forces * (corners == k)).sum(axis=1).max()
        best = -linprog(-np.eye(6)[k], A_eq=rows.T, b_eq=[50.0, 0, 0]).fun
        check_value(f"greatest share of foot {k} of six", "scipy.optimize.linprog (HiGHS)", "D", best, ours, rel=1e-9)


def make_chain(count, length_m, mass_kg=1.0):
    """Links along x, joints at their starts turning about the axis x of the joint frame, laid along world y."""
    # Joint frame: y along the link, x across it to the left, so that a positive flexion bends the chain down.
    X = np.array([[0, 1, 0], [1, 0, 0], [0, 0, -1.0]])
    elements = [make_element("base", mass_kg, (-length_m / 2, 0, 0))]
    joints = []
    for k in range(count):
        start = np.array([k * length_m, 0, 0])
        elements.append(make_element(f"link {k}", mass_kg, (length_m / 2, 0, 0), make_transform(np.eye(3), start)))
        parent = elements[k].name
        frame = make_transform(X, start)
        joints.append(Joint(parent, f"link {k}", "by hand", frame, (1, 1, 1), None, (), "by hand", "made up", None))
    return build_skeleton("chain", tuple(elements), tuple(joints))


def test_chain_of_ten_links(check_value):
    chain = make_chain(10, 0.3)
    turned = Pose("bent", {f"link {k}": np.array([-np.radians(5), 0, 0]) for k in range(10)})
    tip = apply(place_elements(chain, turned)[-1], [[0.3, 0, 0]])[0]
    source = "closed form: sum of l cos(k 5°), l sin(k 5°), k = 1..10"
    check_value(
        "10 links of .3 m, each joint +5°: tip (x, z)", source, "D", (2.5782135, 1.3421330), tip[[0, 2]], abs=5e-8
    )


@pytest.mark.parametrize("count", [5, 80])
def test_torque_along_a_level_chain(check_value, count):
    mass, length = 2.5, 0.3
    found = assess(make_chain(count, length, mass), Pose("level"), UNIT, Site())
    expected = [mass * GRAVITY * length * (count - k) ** 2 / 2 for k in range(count)]
    got = [np.hypot(*joint.bending_Nm) for joint in found.joints]
    source = "closed form: m g l (n - k)²/2 at joint k of n level links"
    check_value(f"level chain of {count}: torque at every joint", source, "D", expected, got, rel=1e-12)
    check_value(
        f"level chain of {count}: no torsion", STATICS, "D", 0.0, max(abs(j.torsion_Nm) for j in found.joints), abs=1e-9
    )


def test_springs_alone(check_value):
    """A stiffer pair takes more: closed form by symmetry, two and two."""
    forces = solve_springs(RECTANGLE, [3, 1, 1, 3], 80.0, [1.0, 0.0])
    source = "closed form: W/2 (1 ± x/a) a pair, halved"
    check_value("two stiff and two soft springs", source, "D", [30.0, 10.0, 10.0, 30.0], forces, rel=1e-9)


def test_composite_of_two_masses(check_value):
    """The second body hangs on a joint: the whole is the same as of two loose masses."""
    elements = (make_element("a", 100.0, (0, 0, 1)), make_element("b", 50.0, (2, 0, 2)))
    joint = Joint("a", "b", "by hand", np.eye(4), (1, 1, 1), None, (), "by hand", "made up", None)
    found = assess(build_skeleton("pair", elements, (joint,)), Pose("as built"), UNIT, Site())
    source = "closed form: sum of m c over sum of m"
    check_value("100 kg at (0, 0, 1), 50 kg at (2, 0, 2): mass", source, "D", 150.0, found.mass_kg, rel=1e-12)
    expected = (0.6666667, 0.0, 1.3333333)
    check_value("100 kg at (0, 0, 1), 50 kg at (2, 0, 2): centre", source, "D", expected, found.centre_m, abs=5e-8)
    # Steiner: own inertias (1 m⁵ each and unit density) and reduced mass times distance squared.
    reduced = 100 * 50 / 150
    expected_y = 2 + reduced * (2**2 + 1**2)
    check_value(
        "the same: inertia about y", "closed form: Steiner", "D", expected_y, found.inertia_kg_m2[1, 1], rel=1e-12
    )


def test_weight_of_a_cast_sphere(check_value):
    """Silicon bronze, nominal density of its data sheet; a smooth sphere of .25 m."""
    volume = 4 / 3 * np.pi * 0.25**3
    build = Build(find_material("UNS C87300 silicon bronze"))
    found = assess(build_skeleton("ball", (make_element("ball", volume, (0, 0, 1)),), ()), Pose("p"), build, Site())
    source = "8360 kg/m³ of the Copper Development Association's data sheet; volume 0.0654498469498 m³ (4/3 pi r³)"
    check_value("sphere r .25 m in C87300: mass [kg]", source, "S", 8360 * 0.0654498469498, found.mass_kg, rel=1e-12)
