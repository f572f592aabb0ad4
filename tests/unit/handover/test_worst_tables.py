"""Joints and beams at worst as a hand-over tells them, and as the page does."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from core_calcs.document.document import SkeletonDocument
from core_calcs.handover.report_worst import list_worst_beams, list_worst_joints, tell_missing
from core_calcs.handover.worst_tables import tabulate_worst_beams, tabulate_worst_joints
from core_calcs.site.actions import PointAction, Wind
from core_calcs.studies.assess import assess
from core_calcs.studies.beams import find_beams

PUSH = PointAction("shove", "push", "skull", (0.1, 0.0, 0.0), 60.0)
SITS = PointAction("sits", "person", "dorsal 3", (0.0, 0.0, 0.05), 80.0)


@pytest.fixture(scope="module")
def acted(box_document: tuple[SkeletonDocument, Path]):
    document = box_document[0]
    site = replace(document.site, actions=(PUSH, SITS))
    return document.skeleton, assess(document.skeleton, document.poses[0], document.build, site)


def rows_of(table):
    return [dict(zip(table.heads, row, strict=True)) for row in table.rows]


def test_every_joint_has_five_figures_twice_and_what_comes_with_each(acted):
    skeleton, found = acted
    rows = rows_of(tabulate_worst_joints(found))
    assert len(rows) == 10 * len(skeleton.joints)
    for row in rows:
        if row["greatest"] is None:
            assert row["missing"]
            continue
        own = {
            "tension": row["axial_N"],
            "compression": -row["axial_N"],
            "shear": math.hypot(row["shear_flexion_axis_N"], row["shear_floating_axis_N"]),
            "torsion": abs(row["torsion_Nm"]),
            "bending": math.hypot(row["bending_flexion_axis_Nm"], row["bending_floating_axis_Nm"]),
        }
        assert row["greatest"] == pytest.approx(own[row["figure"]], rel=1e-9, abs=1e-9)
        assert row["unit"] == ("Nm" if row["figure"] in ("torsion", "bending") else "N")


def test_the_skull_by_hand(acted):
    """A push of 60 N on it, square to its joint's long axis at worst: shear as self-weight and push together."""
    found = acted[1]
    load = next(own for own in found.joints if own.child == "skull")
    weight = abs(float(load.force_N[2]))
    rows = {
        (row["values"], row["figure"]): row for row in rows_of(tabulate_worst_joints(found)) if row["joint"] == "skull"
    }
    assert rows["characteristic", "shear"]["acting"].startswith("shove × 1.00 towards ")
    assert rows["design", "shear"]["acting"].startswith("shove × 1.50 towards ")
    assert rows["design", "shear"]["leading"] == "shove"
    most = math.hypot(weight, 60.0)
    assert rows["characteristic", "shear"]["greatest"] <= most * (1 + 1e-9)
    assert rows["characteristic", "shear"]["greatest"] >= 60.0 * (1 - 1e-9)
    design = math.hypot(1.35 * weight, 1.5 * 60.0)
    assert rows["design", "shear"]["greatest"] <= design * (1 + 1e-9)


def test_page_and_tables_name_the_same(acted):
    skeleton, found = acted
    beams = find_beams(skeleton, found)
    lines = list_worst_beams(found, beams)
    assert [line.cells[0].lower() for line in lines] == [beam.name.lower() for beam in beams]
    assert {row["beam"] for row in rows_of(tabulate_worst_beams(found))} == {beam.name for beam in beams}
    joints, moment_unit, force_unit = list_worst_joints(skeleton, found)
    assert len(joints) == sum(joint.moves for joint in skeleton.joints)
    assert {moment_unit, force_unit} <= {"N·m", "kN·m", "N", "kN"}
    assert any(line.cells[4] == "shove" for line in joints)


def test_not_known_is_written_out(box_document):
    document = box_document[0]
    site = replace(document.site, actions=(PUSH,), wind=Wind(500.0))
    found = assess(document.skeleton, document.poses[0], document.build, site)
    rows = rows_of(tabulate_worst_joints(found))
    assert [row["joint"] for row in rows] == [load.child for load in found.joints]
    assert all(row["greatest"] is None and row["missing"].startswith("wind: ") for row in rows)
    assert list_worst_joints(document.skeleton, found) == ((), "", "")
    assert tell_missing(found).startswith("wind: the elements' surfaces")
