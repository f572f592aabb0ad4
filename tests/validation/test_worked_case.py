"""The case worked by hand in docs/theory-statics.md."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.build.build import Build, Material
from core_calcs.mesh.solid import Solid
from core_calcs.site.site import Site
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.joint import Joint
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, build_skeleton
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.assess import assess

SOURCE = "worked by hand, docs/theory-statics.md"
UNIT = Build(Material("unit weight", 1.0, 0.0, "made up: a volume of 1 m³ weighs 1 kg"))


def make_element(name, mass_kg, centre_m):
    solid = Solid(mass_kg, 0.0, np.array(centre_m, float), np.eye(3), np.zeros(3), np.zeros(3), 12, ("closed",))
    source = Source(f"{name}.stl", None, 1.0, "0" * 64)
    return Element(name, "other", None, "middle", "not known", source, solid, np.eye(4))


def make_joint(child, centre_m):
    frame = make_transform(np.eye(3), centre_m)
    return Joint("trunk", child, "by hand", frame, (1, 1, 1), None, (), "by hand", "made up", None)


@pytest.fixture
def found():
    elements = (
        make_element("trunk", 100, (0, 0, 1)),
        make_element("neck", 20, (1.4, 0, 1.5)),
        make_element("fore limbs", 10, (0.6, 0, 0.45)),
    )
    joints = (make_joint("neck", (0.8, 0, 1.2)), make_joint("fore limbs", (0.6, 0, 0.9)))
    feet = tuple(
        Foot(f"{side} {end}", (Contact(holder, np.array([[x, y, 0.0]])),))
        for end, holder, x in (("fore", "fore limbs", 0.6), ("hind", "trunk", -0.6))
        for side, y in (("left", 0.3), ("right", -0.3))
    )
    skeleton = build_skeleton("worked case", elements, joints, feet)
    return assess(skeleton, Pose("as built"), UNIT, Site(datum_m=(0, 0)))


def test_mass_and_margins(check_value, found):
    centre = (0.261538, 0, 1.034615)
    check_value("worked case: centre of mass [m]", SOURCE, "D", centre, found.centre_m, abs=5e-7)
    distances = sorted(edge.distance_m for edge in found.edges)
    check_value("worked case: distances [m]", SOURCE, "D", (0.3, 0.3, 0.338462, 0.861538), distances, abs=5e-7)
    check_value("worked case: tip angle [deg]", SOURCE, "D", 16.1702, np.degrees(found.tip_angle_rad), abs=5e-5)
    energy = min(edge.energy_J for edge in found.edges)
    check_value("worked case: energy margin [J]", SOURCE, "D", 54.3305, energy, abs=5e-5)


def test_feet(check_value, found):
    feet = {foot.foot: foot for foot in found.feet}
    for side in ("left", "right"):
        fore, hind = feet[f"{side} fore"], feet[f"{side} hind"]
        check_value(f"worked case: {side} fore foot [N]", SOURCE, "D", 457.6437, fore.force_N, abs=5e-5)
        check_value(f"worked case: {side} hind foot [N]", SOURCE, "D", 179.7886, hind.force_N, abs=5e-5)
        check_value(f"worked case: {side} fore foot, range", SOURCE, "D", (277.8551, 637.4323), fore.range_N, abs=1e-4)
        check_value(f"worked case: {side} hind foot, range", SOURCE, "D", (0, 359.5772), hind.range_N, abs=1e-4)


def test_cuts_and_base(check_value, found):
    joints = {joint.child: joint for joint in found.joints}
    neck, limbs = joints["neck"], joints["fore limbs"]
    check_value("worked case: neck, force [N]", SOURCE, "D", (0, 0, -196.133), neck.force_N, abs=1e-9)
    check_value("worked case: neck, moment [N m]", SOURCE, "D", (0, 117.6798, 0), neck.moment_Nm, abs=1e-9)
    check_value("worked case: fore limbs, force [N]", SOURCE, "D", (0, 0, 817.2208), limbs.force_N, abs=1e-4)
    check_value("worked case: fore limbs, moment [N m]", SOURCE, "D", (0, 0, 0), limbs.moment_Nm, abs=1e-9)
    expected = ((-107.8731, 0, 0), (107.8731, 0, 0))
    check_value("worked case: fore limbs, range [N m]", SOURCE, "D", expected, limbs.moment_range_Nm, abs=1e-4)
    check_value("worked case: base force [N]", SOURCE, "D", (0, 0, -1274.8645), found.base_force_N, abs=1e-9)
    check_value("worked case: base moment [N m]", SOURCE, "D", (0, 333.4261, 0), found.base_moment_Nm, abs=1e-4)
