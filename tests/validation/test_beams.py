"""Neck and tail as beams against closed forms: straight, inclined, bent and curved cantilevers under their own weight.

The elements are pieces of a uniform bar with their centres where the bar's pieces have them, so that the values at the
joints are those of the bar, to the last digits. What the bar would be made of makes no difference to a cantilever.
"""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.build.build import Build, Material
from core_calcs.mesh.solid import Solid
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.joint import Joint
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.assess import assess
from core_calcs.studies.beams import find_beams

CANTILEVER = "closed form: cantilever under its own weight"
ARC = "closed form: quarter-circle cantilever of a thin bar, bending and torsion alone"
TREE = "closed form: m g l (n - k)²/2 at joint k of n level links"
UNIT = Build(Material("unit weight", 1.0, 0.0, "made up: a volume of 1 m³ weighs 1 kg"))
W, PIECES = 2000.0, 24


def make_element(name, series, mass_kg, centre_m):
    solid = Solid(mass_kg, 0.0, np.zeros(3), np.eye(3), np.zeros(3), np.zeros(3), 12, ("closed",))
    X_WE = make_transform(np.eye(3), centre_m)
    return Element(name, series, None, "middle", "not known", Source(f"{name}.stl", None, 1.0, "0" * 64), solid, X_WE)


def cut_beam(joints, centres, masses, behind, series="cervical"):
    """The neck (or tail) with joints (k, 3) and pieces of masses (k,) at centres (k, 3), on a trunk of two elements
    whose joint is `behind` the first one; its last piece is that furthest out."""
    elements = [make_element("sacrum", "sacral", 1.0, behind), make_element("trunk", "dorsal", 1.0, behind)]
    links = [("sacrum", "trunk", behind)]
    for k, (mass, centre) in enumerate(zip(masses, centres, strict=True)):
        elements.append(make_element(f"piece {k}", series, float(mass), centre))
        links.append((elements[-2].name, f"piece {k}", joints[k]))
    held = tuple(
        Joint(parent, child, "by hand", make_transform(np.eye(3), at), (1, 1, 1), None, (), "by hand", "made up", None)
        for parent, child, at in links
    )
    skeleton = build_skeleton("beam", tuple(elements), held)
    beams = {beam.name: beam for beam in find_beams(skeleton, assess(skeleton, Pose("as built"), UNIT, Site()))}
    return beams["neck" if series == "cervical" else "tail"]


def make_bar(direction, length):
    """A straight bar from the origin, and a point behind it."""
    e = np.array(direction, float) / np.linalg.norm(direction)
    s = np.arange(PIECES) * length / PIECES
    masses = np.full(PIECES, W * length / PIECES / GRAVITY)
    return s[:, None] * e, (s + length / PIECES / 2)[:, None] * e, masses, -e


@pytest.mark.parametrize(("series", "name"), [("cervical", "neck"), ("caudal", "tail")])
def test_straight_cantilever(check_value, series, name):
    """Level, 3 m, 2000 N/m; the tail runs backwards and hangs on the same side."""
    beam = cut_beam(*make_bar((1 if series == "cervical" else -1, 0, 0), 3.0), series=series)
    left = 3.0 - beam.station_m
    source = f"{CANTILEVER}: M = w L²/2, V = w L"
    check_value(f"level {name}: bending at the base", source, "D+FE", 9000.0, beam.bending_Nm[0, 0], rel=1e-9)
    check_value(f"level {name}: bending along it", source, "D", W * left**2 / 2, beam.bending_Nm[:, 0], rel=1e-9)
    check_value(f"level {name}: shear along it", source, "D", -W * left, beam.shear_N[:, 1], rel=1e-9)
    none = [np.abs(v).max() for v in (beam.axial_N, beam.torsion_Nm, beam.shear_N[:, 0], beam.bending_Nm[:, 1])]
    check_value(f"level {name}: no axial force, torsion, or side", source, "D", np.zeros(4), none, abs=1e-9)


@pytest.mark.parametrize("sense", [1, -1])
def test_inclined_cantilever(check_value, sense):
    """30° up or down: what is along the bar presses or pulls it."""
    beam = cut_beam(*make_bar((np.cos(np.radians(30)), 0, sense * 0.5), 3.0))
    source = f"{CANTILEVER}, inclined 30°: M = w L²/2 cos, N = w L sin"
    way = "up" if sense > 0 else "down"
    check_value(f"neck 30° {way}: bending at the base", source, "D", 7794.229, beam.bending_Nm[0, 0], rel=1e-7)
    check_value(f"neck 30° {way}: axial force at the base", source, "D", -sense * 3000.0, beam.axial_N[0], rel=1e-9)


@pytest.mark.parametrize("count", [5, 80])
def test_level_links(check_value, count):
    """Check of the joints' torques by the beam's own axes."""
    mass, length = 2.5, 0.3
    x = np.arange(count) * length
    points, middles = (np.column_stack([v, 0 * x, 0 * x]) for v in (x, x + length / 2))
    beam = cut_beam(points, middles, np.full(count, mass), np.array([-length, 0, 0]))
    expected = mass * GRAVITY * length * (count - np.arange(count)) ** 2 / 2
    check_value(f"neck of {count} level links: bending", TREE, "D", expected, beam.bending_Nm[:, 0], rel=1e-9)


def test_l_bend_in_plan(check_value):
    """2 m along x, then 1 m along y with 1500 N at its end: M = P a, T = P b at the base, T = 0 and M = P b beyond the
    corner. The joint in the corner itself lies on the bisector."""
    points = np.array([[0, 0, 0], [1, 0, 0], [2, 0, 0], [2, 0.5, 0], [2, 1, 0]], float)
    masses = np.array([0, 0, 0, 0, 1500.0 / GRAVITY])
    centres = np.array([[0.5, 0, 0], [1.5, 0, 0], [2, 0.2, 0], [2, 0.7, 0], [2, 1, 0]])
    # The last piece has its centre in its joint: its weight acts at the end of the bar.
    beam = cut_beam(points, centres, masses, np.array([-1.0, 0, 0]))
    source = "closed form: L-bend in plan, P at the end"
    check_value("L-bend: bending at the base", source, "D+FE", 3000.0, beam.bending_Nm[0, 0], rel=1e-9)
    check_value("L-bend: torsion at the base", source, "D+FE", 1500.0, abs(beam.torsion_Nm[0]), rel=1e-9)
    check_value("L-bend: resultant at the base", source, "D", np.hypot(3000, 1500), resultant(beam)[0], rel=1e-9)
    beyond = [beam.bending_Nm[3, 0], beam.torsion_Nm[3]]
    check_value("L-bend: beyond the corner", source, "D", [750.0, 0.0], beyond, rel=1e-9, abs=1e-9)


def resultant(beam):
    return np.sqrt(beam.torsion_Nm**2 + (beam.bending_Nm**2).sum(axis=1))


def make_arc(plane, radius=1.5):
    """A quarter circle that leaves the origin along `plane[0]` towards `plane[1]`: joints, centres of the arc's pieces,
    masses, and a joint on the circle behind it."""
    t, n = np.array(plane, float)
    half = np.pi / 4 / PIECES

    def place(a, r):
        return (r * np.sin(a))[:, None] * t + (radius - r * np.cos(a))[:, None] * n

    a = np.arange(-1, PIECES) * 2 * half
    points = place(a, radius)
    centres = place(a[1:] + half, radius * np.sin(half) / half)
    masses = np.full(PIECES, W * radius * 2 * half / GRAVITY)
    return points[1:], centres, masses, points[0]


def test_arc_in_plan(check_value):
    """Bends to the left in the horizontal plane: bending and torsion by its own weight."""
    R = 1.5
    beam = cut_beam(*make_arc([(1, 0, 0), (0, 1, 0)]))
    check_value("arc in plan: bending at the base, w R²", ARC, "D+FE", 4500.0, beam.bending_Nm[0, 0], rel=1e-9)
    check_value("arc in plan: torsion, w R² (π/2 - 1)", ARC, "D+FE", 2568.58347, abs(beam.torsion_Nm[0]), rel=1e-8)
    angle = np.pi / 2 - np.arange(PIECES) * np.pi / 2 / PIECES
    bending, torsion = W * R**2 * (1 - np.cos(angle)), W * R**2 * (angle - np.sin(angle))
    # The last joint's tangent goes to the centre of the last piece, which is not on the circle.
    got = beam.bending_Nm[:-1, 0]
    check_value("arc in plan: bending along it", ARC, "D", bending[:-1], got, rel=1e-9, abs=1e-8)
    got = beam.torsion_Nm[:-1]
    check_value("arc in plan: torsion along it", ARC, "D", -torsion[:-1], got, rel=1e-9, abs=1e-8)
    check_value("arc in plan: resultant", ARC, "D", np.hypot(bending, torsion), resultant(beam), rel=1e-9, abs=1e-8)


@pytest.mark.parametrize("turn_deg", [0, 50])
def test_upright_arc(check_value, turn_deg):
    """Rises upright from the base and bends over to level: M = w R² (π/2 - 1), N = -w R π/2 at the base."""
    level = (np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg)), 0)
    beam = cut_beam(*make_arc([(0, 0, 1), level]))
    name = f"upright arc turned by {turn_deg}°"
    check_value(f"{name}: bending at the base", ARC, "D+FE", 2568.58347, beam.bending_Nm[0, 0], rel=1e-8)
    check_value(f"{name}: axial force at the base, w R π/2", ARC, "D+FE", -4712.389, beam.axial_N[0], rel=1e-7)
    none = [np.abs(v).max() for v in (beam.torsion_Nm, beam.shear_N[:, 0], beam.bending_Nm[:, 1])]
    check_value(f"{name}: stays in its plane", ARC, "D", np.zeros(3), none, abs=1e-8)
