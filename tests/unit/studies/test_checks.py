"""The checks of a pose, each driven into every state it has."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.build.materials import default_build
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.joint import AxisLimit, Envelope, Stop
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, build_skeleton
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.assess import assess
from core_calcs.studies.assessment import name_told
from core_calcs.studies.checks import count_outside

SQUARE = np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]], float)
DEGREE = np.pi / 180


def find_check(assessment, name):
    (check,) = [check for check in assessment.checks if check.name == name]
    return check


def build_table(random_skeletons, points, head_x=0.0, limits=None, **solid):
    """A top at a height of 1 m with a head on it, and one point foot for each of the points on the ground."""
    top = random_skeletons.make_solid(0.02, np.zeros(3), np.full(3, 0.2))
    head = random_skeletons.make_solid(0.02, np.zeros(3), np.full(3, 0.2))
    elements = (
        random_skeletons.make_element("top", replace(top, **solid), make_transform(np.eye(3), [0, 0, 1])),
        random_skeletons.make_element("head", head, make_transform(np.eye(3), [head_x, 0, 1.5])),
    )
    joint = replace(random_skeletons.make_joint("top", "head", make_transform(np.eye(3), [0, 0, 1.2])), limits=limits)
    feet = tuple(
        Foot(f"foot {k}", (Contact("top", np.array([[*point, -1.0]])),)) for k, point in enumerate(np.array(points))
    )
    return build_skeleton("table", elements, (joint,), feet)


def study(skeleton, pose=None, site=None):
    return assess(skeleton, pose or Pose("p"), default_build(), site or Site())


def make_limits(low_deg, high_deg):
    stops = [Stop(angle * DEGREE, "by hand", None) for angle in (low_deg, high_deg)]
    return (AxisLimit(*stops),) * 3


def test_table_holds_in_every_way(random_skeletons):
    found = study(build_table(random_skeletons, SQUARE, limits=make_limits(-5, 5)))
    assert {check.name: check.state for check in found.checks} == {
        "Stands": "holds",
        "Stands against what acts on it (EQU)": "holds",
        "Does not slide": "holds",
        "Joints inside the bony range": "holds",
        "Feet on the ground bear load": "holds",
        "Nothing runs into another": "not known",
        "Nothing below the ground": "holds",
        "Equilibrium": "holds",
        "Meshes closed": "holds",
    }
    assert found.distance_margin_m == pytest.approx(1.0)
    assert found.tip_angle_rad == pytest.approx(np.arctan(1 / 1.25))


def test_reserve_makes_a_small_margin_close(random_skeletons):
    check = find_check(study(build_table(random_skeletons, SQUARE, head_x=1.9), site=Site(reserve_m=0.1)), "Stands")
    assert check.state == "close"
    assert check.figure == pytest.approx(0.05)
    assert set(check.place.split(" – ")) == {"foot 0", "foot 1"}


def test_centre_over_an_edge_fails(random_skeletons):
    """Half of the mass 2 m before the square's middle: the centre is 1 m before it, over its front edge."""
    check = find_check(study(build_table(random_skeletons, SQUARE, head_x=2.0)), "Stands")
    assert check.figure == pytest.approx(0.0, abs=1e-12)
    assert check.state == "fails"
    assert check.meaning == "the centre of mass stands over the edge of the feet: nothing keeps it from tipping"


def test_centre_outside_fails_and_leaves_the_feet_unknown(random_skeletons):
    found = study(build_table(random_skeletons, SQUARE, head_x=2.2))
    assert find_check(found, "Stands").state == "fails"
    assert find_check(found, "Stands").meaning == "the centre of mass stands 100 mm outside the feet: it tips"
    assert found.distance_margin_m == pytest.approx(-0.1)
    for name in ("Feet on the ground bear load", "Equilibrium"):
        check = find_check(found, name)
        assert check.state == "not known"
        assert "outside the support polygon" in check.missing
    assert all(foot.force_N is None and foot.range_N is None for foot in found.feet)
    assert found.residual_N is None
    # The head is a free branch all the same, and the whole weighs what it weighs.
    head = found.joints[0]
    np.testing.assert_allclose(head.force_N, [0, 0, -found.mass_kg / 2 * GRAVITY])
    np.testing.assert_allclose(found.base_force_N, [0, 0, -found.mass_kg * GRAVITY])


def test_part_that_holds_all_feet_is_cut_from_the_other_side(random_skeletons):
    """Out of balance, root beyond the cut: the part without feet decides the cut."""
    table = build_table(random_skeletons, SQUARE, head_x=2.2)
    turned = build_skeleton(
        "turned", table.elements, (replace(table.joints[0], parent="head", child="top"),), table.feet
    )
    (joint,) = study(turned).joints
    weight = study(turned).mass_kg * GRAVITY / 2
    np.testing.assert_allclose(joint.force_N, [0, 0, weight])
    np.testing.assert_allclose(joint.moment_Nm, [0, -2.2 * weight, 0], atol=1e-9 * weight)


@pytest.mark.parametrize(
    ("points", "told", "figure"),
    [
        ([[-1, 0], [1, 0]], "one line", -0.0),
        ([[-1, 0.5], [0.2, 0.5], [1, 0.5]], "one line", -0.5),
        ([[0.3, 0.4]], "one point", -0.5),
    ],
)
def test_line_or_point_is_no_base(random_skeletons, points, told, figure):
    found = study(build_table(random_skeletons, points))
    check = find_check(found, "Stands")
    assert check.state == "fails"
    assert told in check.missing
    assert told.removeprefix("one ") in check.meaning
    assert "nothing keeps it from tipping" in check.meaning
    assert check.figure == pytest.approx(figure)
    assert found.edges == ()
    assert found.distance_margin_m is None
    assert found.tip_angle_rad is None
    assert len(found.support_polygon_m) == min(len(points), 2)
    assert find_check(found, "Feet on the ground bear load").state == "not known"


def test_single_column_with_a_pad_stands(random_skeletons):
    table = build_table(random_skeletons, SQUARE[:1])
    pad = np.array([[0.1 * x, 0.1 * y, -1.0] for x, y in SQUARE])
    found = study(build_skeleton("column", table.elements, table.joints, (Foot("column", (Contact("top", pad),)),)))
    assert find_check(found, "Stands").state == "holds"
    assert find_check(found, "Stands").place == "column"
    (foot,) = found.feet
    weight = found.mass_kg * GRAVITY
    assert foot.force_N == pytest.approx(weight)
    assert foot.range_N == pytest.approx((weight, weight))
    np.testing.assert_allclose(foot.centre_m, [0, 0, 0], atol=1e-9)


def test_pose_above_the_ground_is_not_judged(random_skeletons):
    pose = Pose("lifted", X_WN=make_transform(np.eye(3), [0, 0, 0.1]))
    check = find_check(study(build_table(random_skeletons, SQUARE), pose), "Stands")
    assert check.state == "not known"
    assert "100.0 mm above" in check.missing


def test_skeleton_without_feet_is_not_judged(random_skeletons):
    found = study(build_table(random_skeletons, np.zeros((0, 2))))
    assert find_check(found, "Stands").state == "not known"
    assert "feet" in find_check(found, "Stands").missing
    assert found.joints[0].force_N is not None


def test_floating_branches_with_feet_are_unknown(random_skeletons):
    """Nothing touches: what a limb carries when it is set down is not known, what the head carries is."""
    table = build_table(random_skeletons, SQUARE)
    limbed = build_skeleton(
        "limbed", table.elements, table.joints, (Foot("on the head", (Contact("head", np.array([[0, 0, -1.0]])),)),)
    )
    found = study(limbed)
    assert find_check(found, "Stands").state == "not known"
    assert found.joints[0].force_N is None
    assert "1 joint between the feet" in find_check(found, "Equilibrium").missing


def test_lifted_foot_carries_nothing(random_skeletons):
    table = build_table(random_skeletons, SQUARE)
    lifted = Foot("lifted", (Contact("top", np.array([[0, 0, -0.5]])),))
    found = study(build_skeleton("s", table.elements, table.joints, (*table.feet, lifted)))
    (foot,) = [foot for foot in found.feet if foot.foot == "lifted"]
    assert foot.force_N == 0
    assert foot.range_N == (0, 0)
    assert foot.centre_m is None
    assert find_check(found, "Feet on the ground bear load").state == "holds"


@pytest.mark.parametrize("noise", [-1e-13, 0.0, 1e-13])
def test_of_places_alike_the_first_is_named_whatever_the_rounding(random_skeletons, noise):
    """A square in balance: all edges, feet and corners are the same but for rounding."""
    x = np.array([[-1 + noise, -1], [1, -1 - noise], [1 + noise, 1], [-1, 1 + noise]])
    found = study(build_table(random_skeletons, x, head_x=noise))
    feet = [foot.foot for foot in found.feet]
    assert set(find_check(found, "Stands").place.split(" – ")) == set(feet[:2])
    assert find_check(found, "Feet on the ground bear load").place == feet[0]


def test_figures_that_are_only_rounding_are_told_in_words(random_skeletons):
    found = study(build_table(random_skeletons, SQUARE))
    assert find_check(found, "Stands").meaning == ""
    balanced = find_check(found, "Equilibrium")
    assert abs(balanced.figure) < 1e-14
    assert balanced.meaning == "balanced to rounding"
    assert find_check(found, "Meshes closed").meaning == "every surface is closed"


def test_uplift_is_released_and_told(random_skeletons):
    """A far foot behind the tipping line: springs would pull on it, so it lets go."""
    found = study(build_table(random_skeletons, [[1, 1], [1, -1], [-0.05, 0], [-3, 0]], head_x=1.9))
    far = found.feet[3]
    assert far.force_N == 0
    check = find_check(found, "Feet on the ground bear load")
    assert (check.state, check.place) == ("fails", "foot 3")
    assert check.meaning == "it touches the ground but carries nothing"


def test_joint_beyond_its_limit_is_named(random_skeletons):
    table = build_table(random_skeletons, SQUARE, limits=make_limits(-5, 5))
    found = study(table, Pose("bold", {"head": np.array([0, 7, -4]) * DEGREE}))
    (use,) = found.uses
    np.testing.assert_allclose(use.beyond_rad, np.array([0, 2, 0]) * DEGREE, atol=1e-12)
    check = find_check(found, "Joints inside the bony range")
    assert (check.state, check.place) == ("fails", "head")
    assert check.figure == pytest.approx(2.0)


def test_axes_together_may_be_outside_where_each_alone_is_inside(random_skeletons):
    """Limits of ±5° each; together a ball of 5°: 4° and 4° make 5.7°, .65° outside."""
    table = build_table(random_skeletons, SQUARE, limits=make_limits(-5, 5))
    (joint,) = table.joints
    ball = Envelope(np.full((3, 2), (-5, 5)) * DEGREE, np.ones(258))
    coupled = replace(table, joints=(replace(joint, envelope=ball),))
    pose = Pose("both", {"head": np.array([4, 4, 0]) * DEGREE})
    assert find_check(study(table, pose), "Joints inside the bony range").state == "holds"
    found = study(coupled, pose)
    check = find_check(found, "Joints inside the bony range")
    assert (check.state, check.place) == ("fails", "head")
    assert check.figure == pytest.approx(np.hypot(4, 4) - 5, abs=0.06)
    assert check.meaning == "inside each limit, outside what they allow together"
    assert found.uses[0].inside_rad == pytest.approx(-check.figure * DEGREE)
    assert count_outside(found.uses) == 1
    inside = study(coupled, Pose("less", {"head": np.array([3, 3, 0]) * DEGREE}))
    assert find_check(inside, "Joints inside the bony range").state == "holds"
    assert inside.uses[0].inside_rad == pytest.approx((5 - np.hypot(3, 3)) * DEGREE, abs=0.1 * DEGREE)
    # A rig of single precision that is not moved wavers, and changes nothing.
    wavered = study(coupled, Pose("less", {"head": np.array([3, 3, 0]) * DEGREE + 2e-8}))
    assert wavered.uses[0].inside_rad == inside.uses[0].inside_rad


def test_unknown_limits_leave_a_turned_joint_unknown(random_skeletons):
    table = build_table(random_skeletons, SQUARE)
    neutral = find_check(study(table), "Joints inside the bony range")
    turned = study(table, Pose("p", {"head": np.array([0.1, 0, 0])}))
    check = find_check(turned, "Joints inside the bony range")
    assert turned.uses[0].beyond_rad is None
    assert neutral.state == "holds"
    assert (check.state, check.figure) == ("not known", None)
    assert "head" in check.missing


def test_foot_below_the_ground_fails(random_skeletons):
    pose = Pose("sunk", X_WN=make_transform(np.eye(3), [0, 0, -0.1]))
    check = find_check(study(build_table(random_skeletons, SQUARE), pose), "Nothing below the ground")
    assert check.state == "holds"  # the feet are thin points: the boxes end at a height of 0.7 m
    low = replace(random_skeletons.make_solid(0.02, np.zeros(3), np.full(3, 0.2)), lower_m=np.array([-0.2, -0.2, -1.0]))
    table = build_table(random_skeletons, SQUARE, lower_m=low.lower_m)
    check = find_check(study(table, pose), "Nothing below the ground")
    assert (check.state, check.place) == ("fails", "top")
    assert check.figure == pytest.approx(-0.1)


def test_tilted_box_below_the_ground_is_not_known(random_skeletons):
    """Only a corner of the bounding box reaches down: the surface itself may or may not."""
    table = build_table(random_skeletons, SQUARE)
    long = replace(table.elements[1].solid, lower_m=np.array([-2.4, -0.1, -0.1]))
    table = build_skeleton("s", (table.elements[0], replace(table.elements[1], solid=long)), table.joints, table.feet)
    check = find_check(study(table, Pose("p", {"head": np.array([0, 0, -40.0]) * DEGREE})), "Nothing below the ground")
    assert (check.state, check.place) == ("not known", "head")
    assert check.figure < 0
    assert "head" in check.missing


def test_tilted_foot_is_judged_by_its_marked_points(random_skeletons):
    tilt = 10 * DEGREE
    R = np.array([[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]])
    pose = Pose("tilted", X_WN=make_transform(R, np.zeros(3)))
    check = find_check(study(build_table(random_skeletons, SQUARE), pose), "Nothing below the ground")
    assert (check.state, check.place) == ("fails", "top")
    assert check.figure == pytest.approx(-np.sin(tilt))


@pytest.mark.parametrize(("error_m3", "state"), [(0.0, "holds"), (2e-4, "close"), (4e-3, "fails")])
def test_open_meshes_are_weighed_by_their_uncertainty(random_skeletons, error_m3, state):
    table = build_table(random_skeletons, SQUARE, volume_error_m3=error_m3)
    check = find_check(study(table), "Meshes closed")
    assert check.state == state
    assert check.figure == pytest.approx(100 * error_m3 / 0.04)
    assert check.place == ("" if state == "holds" else "top")


def test_uncertainty_of_mass_is_carried_to_the_whole(random_skeletons):
    build = default_build()
    rho, uncertainty = build.material.density_kg_m3, build.material.density_uncertainty_kg_m3
    found = study(build_table(random_skeletons, SQUARE, volume_error_m3=1e-3))
    assert found.mass_uncertainty_kg == pytest.approx(rho * 1e-3 + uncertainty * (0.04 + 1e-3))


def test_what_several_lack_is_told_of_the_first_of_them(random_skeletons):
    pose = Pose("in the air", X_WN=make_transform(np.eye(3), [0, 0, 0.5]))
    checks = assess(build_table(random_skeletons, SQUARE), pose, default_build(), Site()).checks
    told = dict(zip([check.name for check in checks], name_told(checks), strict=True))
    lacking = [check.name for check in checks if check.missing.startswith("contact with the ground")]
    assert len(lacking) > 3
    assert lacking[0] == "Stands"
    assert [told[name] for name in lacking] == ["", *["Stands"] * (len(lacking) - 1)]
    assert not any(told[check.name] for check in checks if check.name not in lacking)
