"""Beams as a table: every joint of every chain, what is not known written out."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from core_calcs.handover.beam_table import tabulate_beams
from core_calcs.studies.assess import assess
from core_calcs.studies.beams import find_beams
from tests.unit.box_beast import make_box_document


@pytest.fixture(scope="module")
def beast(tmp_path_factory):
    document, _ = make_box_document(tmp_path_factory.mktemp("beast"))
    return document.skeleton, assess(document.skeleton, document.poses[0], document.build, document.site)


def test_rows_are_the_joints_of_the_beams(beast):
    table = tabulate_beams(*beast)
    rows = [dict(zip(table.heads, row, strict=True)) for row in table.rows]
    beams = find_beams(*beast)
    assert [(row["beam"], row["joint"]) for row in rows] == [(b.name, joint) for b in beams for joint in b.joints]
    loads = {load.child: load for load in beast[1].joints}
    for row in rows:
        load = loads[row["joint"]]
        whole = math.hypot(row["resultant_bending_Nm"], row["torsion_Nm"])
        assert whole == pytest.approx(math.hypot(*load.moment_Nm), abs=1e-9)
        assert math.hypot(row["resultant_shear_N"], row["axial_force_N"]) == pytest.approx(math.hypot(*load.force_N))
        assert math.hypot(*(row[f"along_{axis}_1"] for axis in "xyz")) == pytest.approx(1)


def test_skeleton_without_chains_has_heads_and_no_rows(beast):
    skeleton, found = beast
    alone = replace(skeleton, elements=skeleton.elements[:1], joints=(), feet=())
    table = tabulate_beams(alone, replace(found, joints=(), masses=found.masses[:1]))
    assert table.rows == ()
    assert table.heads == tabulate_beams(*beast).heads
