"""The case worked by hand in docs/theory-statics.md."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from trimesh.creation import box

from core_calcs.actions.wind import blow, measure_wind_areas
from core_calcs.build.build import Build, Material
from core_calcs.mesh.silhouettes import outline_body, place_bodies
from core_calcs.mesh.solid import Solid
from core_calcs.mesh.surface import Surface
from core_calcs.site.actions import PointAction, Wind
from core_calcs.site.site import Site
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.joint import Joint
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, build_skeleton
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.acting import list_acting
from core_calcs.studies.assess import assess, assess_prepared, prepare

SOURCE = "worked by hand, docs/theory-statics.md"
UNIT = Build(Material("unit weight", 1.0, 0.0, "made up: a volume of 1 m³ weighs 1 kg"))


def make_element(name, mass_kg, centre_m):
    solid = Solid(mass_kg, 0.0, np.array(centre_m, float), np.eye(3), np.zeros(3), np.zeros(3), 12, ("closed",))
    source = Source(f"{name}.stl", None, 1.0, "0" * 64)
    return Element(name, "other", None, "middle", "not known", source, solid, np.eye(4))


def make_joint(child, centre_m):
    frame = make_transform(np.eye(3), centre_m)
    return Joint("trunk", child, "by hand", frame, (1, 1, 1), None, (), "by hand", "made up", None)


def make_worked():
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
    return build_skeleton("worked case", elements, joints, feet)


@pytest.fixture
def found():
    return assess(make_worked(), Pose("as built"), UNIT, Site(datum_m=(0, 0, 0)))


PUSH = PointAction("push", "push", "neck", (1.4, 0, 1.5), 100.0)
PERSON = PointAction("person", "person", "neck", (1.4, 0, 1.5), 250.0)


@pytest.fixture
def acted_on():
    """Push, person and wind on a board of .5 by .8 m, .2 m thick, whose middle is at (0, 0, 1)."""
    prepared = prepare(make_worked(), UNIT)
    board = box(extents=(0.5, 0.2, 0.8))
    board.apply_translation((0, 0, 1.0))
    crowd = place_bodies([outline_body(Surface(board.vertices, board.faces))], np.eye(4)[None])
    wind = blow(measure_wind_areas(crowd, 4), Wind(500.0, 1.2))
    site = Site(friction=0.5, directions=4, actions=(PUSH, PERSON))
    acting = list_acting(prepared.skeleton, prepared.X_WE, site)
    acting = replace(acting, actions=(*acting.actions, wind))
    return assess_prepared(prepared, Pose("as built"), site, acting=acting).balance


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


def test_balance_under_what_acts(check_value, acted_on):
    cases = {case.name: case for case in acted_on.cases}
    alone = cases["self-weight"]
    name = "worked case, EQU: "
    check_value(f"{name}self-weight, used up", SOURCE, "D", 0.325926, alone.overturning, abs=5e-7)
    check_value(f"{name}self-weight, front edge holds [N m]", SOURCE, "D", 529.5591, alone.holding_Nm, abs=5e-5)
    check_value(f"{name}self-weight, neck overturns [N m]", SOURCE, "D", 172.5970, alone.overturning_Nm, abs=5e-5)
    for leading, edge, used in (
        ("push", "left fore – left hind", 1.385768),
        ("person", "left fore – right fore", 1.380199),
        ("wind", "left fore – left hind", 1.503428),
    ):
        case = cases[leading]
        place = " – ".join(sorted(case.place.split(" – ")))
        check_value(f"{name}{leading} leads, edge", SOURCE, "D", edge, place)
        check_value(f"{name}{leading} leads, used up", SOURCE, "D", used, case.overturning, abs=5e-7)
    check_value(f"{name}wind on the board [N]", SOURCE, "D", 240.0, np.linalg.norm(cases["wind"].force_N), rel=1e-9)
    check_value(f"{name}worst", SOURCE, "D", "wind", acted_on.cases[acted_on.worst].name)


def test_anchors_and_ballast(check_value, acted_on):
    tensions = dict(acted_on.anchors)
    check_value("worked case: anchor, a fore foot [N]", SOURCE, "D", 288.8110, tensions["left fore"], abs=5e-5)
    check_value("worked case: anchor, a hind foot [N]", SOURCE, "D", 167.7816, tensions["left hind"], abs=5e-5)
    mass = dict(acted_on.ballast)["centre of mass"]
    check_value("worked case: ballast at the centre of mass [kg]", SOURCE, "D", 67.3989, mass, abs=1e-4)


def test_push_alone(check_value):
    """The push to the left alone: feet, sliding with the turn, and how great it may be."""
    sideways = replace(PUSH, direction=(0, 1, 0))
    site = Site(friction=0.5, actions=(sideways,))
    found = assess(make_worked(), Pose("as built"), UNIT, site)
    case = found.balance.cases[1]
    name = "worked case, push alone: "
    check_value(f"{name}used up", SOURCE, "D", 0.653664, case.overturning, abs=5e-7)
    upward = {own.foot: own.force_N[2] for own in case.reactions}
    expected = {"left fore": 582.6437, "right fore": 332.6437, "left hind": 304.7886, "right hind": 54.7886}
    for foot, force in expected.items():
        check_value(f"{name}{foot} foot [N]", SOURCE, "D", force, upward[foot], abs=5e-5)
    check_value(f"{name}turn about the centre of pressure [N m]", SOURCE, "D", 170.7692, case.turn_Nm, abs=5e-5)
    check_value(f"{name}friction needed", SOURCE, "D", 0.405519, case.friction, abs=5e-7)
    check_value(f"{name}of friction .5", SOURCE, "D", 0.811039, case.sliding, abs=5e-7)
    rose = found.balance.rose
    left = int(np.argmin(np.abs(rose.azimuth_rad - np.pi / 2)))
    check_value("worked case: force that tips it to the left [N]", SOURCE, "D", 369.6633, rose.force_N[left], abs=5e-5)
    got = found.balance.allowed_N[left]
    check_value("worked case: force allowed to the left [N]", SOURCE, "D", 221.7980, got, abs=5e-5)
    checks = {check.name: check.state for check in found.checks}
    check_value(f"{name}stands", SOURCE, "D", "holds", checks["Stands against what acts on it (EQU)"])
    check_value(f"{name}does not slide", SOURCE, "D", "holds", checks["Does not slide"])
