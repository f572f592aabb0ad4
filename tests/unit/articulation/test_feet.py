"""Feet of made-up animals."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.column_joint import attach_fixed
from core_calcs.articulation.feet import find_extreme_points, propose_feet
from core_calcs.mesh.solid import Solid
from core_calcs.skeleton.element import Element, Source

SOLID = Solid(1.0, 0.0, np.zeros(3), np.eye(3), -np.ones(3), np.ones(3), 12, ("closed",))


def make_animal(limbs, trunk_z=1.0):
    """Elements, joints and points: a trunk, and limbs of an upper and a lower piece, by (side, x, lowest z)."""
    corners = np.array([[x, y, z] for x in (-0.05, 0.05) for y in (-0.05, 0.05) for z in (0.0, 0.1)])
    elements, joints = [], []
    points = {"trunk": np.add(corners, (0, 0, trunk_z))}

    def add(name, series, side, at, parent):
        elements.append(
            Element(name, series, None, side, "not known", Source(f"{name}.stl", None, 1.0, ""), SOLID, np.eye(4))
        )
        if parent:
            points[name] = corners + at
            joints.append(attach_fixed(parent, name, points[parent], points[name], "made up"))

    add("trunk", "other", "middle", (0, 0, trunk_z), "")
    for i, (side, x, low) in enumerate(limbs):
        y = {"left": 0.2, "right": -0.2, "middle": 0.0}[side]
        add(f"upper {i}", "limb", side, (x, y, low + 0.5), "trunk")
        add(f"lower {i}", "limb", side, (x, y, low), f"upper {i}")
    return elements, joints, points


def test_a_four_footed_animal_has_four_feet():
    limbs = [("left", 1, 0.0), ("right", 1, 0.01), ("left", -1, 0.0), ("right", -1, 0.0)]
    feet = propose_feet(*make_animal(limbs))
    assert {foot.name for foot in feet} == {"fore left foot", "fore right foot", "hind left foot", "hind right foot"}
    by_name = {foot.name: foot for foot in feet}
    assert [contact.element for contact in by_name["hind right foot"].contacts] == ["lower 3"]
    assert by_name["fore left foot"].contacts[0].points_m[:, 0].mean() == pytest.approx(1.0)


def test_a_two_footed_animal_has_two_though_it_has_arms():
    feet = propose_feet(*make_animal([("left", 0, 0.0), ("right", 0, 0.0), ("left", 0.5, 0.6), ("right", 0.5, 0.6)]))
    assert sorted(foot.name for foot in feet) == ["left foot", "right foot"]


def test_without_limbs_there_are_no_feet():
    assert propose_feet(*make_animal([])) == ()


def test_limbs_in_the_air_are_no_feet():
    elements, joints, points = make_animal([("left", 0, 0.5), ("right", 0, 0.5)])
    points["trunk"] = np.subtract(points["trunk"], (0, 0, 1.0))  # lies on the ground
    assert propose_feet(elements, joints, points) == ()


def test_extreme_points_of_a_box_are_its_corners(rng):
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-2, 2) for z in (-3, 3)], float)
    inner = rng.uniform(-0.9, 0.9, (50000, 3))
    found = find_extreme_points(np.concatenate([inner, corners]))
    assert sorted(map(tuple, found)) == sorted(map(tuple, corners))


def test_what_was_not_recognised_but_hangs_on_a_limb_is_of_its_foot():
    """Toes in the table as `other`, fixed to the limb's end: they bear. What hangs on the trunk does not."""
    elements, joints, points = make_animal([("left", 0, 0.1), ("right", 0, 0.1)])
    corners = points["lower 0"] - (0, 0.2, 0.1)
    for i, side in enumerate(("left", "right")):
        for k, name in enumerate((f"piece {i}", f"tip {i}")):
            source = Source(f"{name}.stl", None, 1.0, "")
            elements.append(Element(name, "other", None, "middle", "not known", source, SOLID, np.eye(4)))
            points[name] = np.add(corners, (0.1 * (k + 1), {"left": 0.2, "right": -0.2}[side], 0))
            above = f"piece {i}" if k else f"lower {i}"
            joints.append(attach_fixed(above, name, points[above], points[name], "made up"))
    feet = propose_feet(elements, joints, points)
    assert [foot.name for foot in feet] == ["left foot", "right foot"]
    assert [[contact.element for contact in foot.contacts] for foot in feet] == [
        ["piece 0", "tip 0"],
        ["piece 1", "tip 1"],
    ]
