"""Discs, steelwork and castings of another material on the command line, on a document with facets made up by hand."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from core_calcs.build.build import Build, Material
from core_calcs.build.parts import measure_disc
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import read_document, write_document
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import Facet
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.transforms import make_transform
from tests.unit.cli.driving import run

BRONZE = Material("bronze", 8000.0, 160.0, "made up")


@pytest.fixture
def document(random_skeletons, tmp_path: Path) -> Path:
    """Three cubes of a litre in a row, half a metre apart; facets of 20 cm² with a gap of 8 mm in one of two joints."""
    solid = random_skeletons.make_solid(1e-3, np.zeros(3), np.full(3, 0.05))
    elements, joints = [], []
    for i, name in enumerate("abc"):
        elements.append(random_skeletons.make_element(name, solid, make_transform(np.eye(3), [i / 2, 0, 1])))
        if i:
            at = make_transform(np.eye(3), [i / 2 - 0.25, 0, 1])
            joints.append(random_skeletons.make_joint("abc"[i - 1], name, at))
    facet = Facet("centrum", "a", np.array([0.246, 0, 1.0]), np.array([1.0, 0, 0]), 0.002, 0.008)
    joints[0] = replace(joints[0], facets=(facet,))
    skeleton = build_skeleton("row", tuple(elements), tuple(joints), ())
    path = tmp_path / "row.json"
    write_document(path, SkeletonDocument(skeleton, (Pose("neutral"),), Build(BRONZE), Site(), "."))
    return path


def test_discs_go_where_facets_leave_a_gap_and_out_again(document: Path) -> None:
    told = run("discs", document, "--all", "--material", "polyethylene (PE-HD)")
    assert told.exit_code == 0, told.output
    assert "1 disc of polyethylene (PE-HD)" in told.stdout
    (disc,) = read_document(document).build.discs
    assert (disc.child, disc.thickness_m, disc.thickness_uncertainty_m, disc.area_m2) == ("b", None, None, 0.002)
    joint = read_document(document).skeleton.joint_of("b")
    assert measure_disc(joint, disc) == pytest.approx((0.008, 0.0016))
    assert "8 mm thick, as the gaps at neutral" in told.stdout
    own = ("--material", "own", "--density", 1000, "--density-uncertainty", 10, "--density-source", "mine")
    size = ("--thickness-mm", 5, "--thickness-uncertainty-mm", 1, "--area-cm2", 30)
    assert run("discs", document, "--joint", "c", *own, *size, "--weighed", 0.02, 0.001).exit_code == 0
    assert read_document(document).build.discs[1].weighed_kg == 0.02
    shown = json.loads(run("discs", document, "--json").stdout)
    masses = [part["mass_kg"] for part in shown["parts"]]
    assert masses == pytest.approx([950 * 0.008 * 0.002, 0.02])
    assert shown["mass_kg"] == pytest.approx(24 + sum(masses))
    assert shown["state"] == "as it was"
    assert run("discs", document, "--all", "--remove").exit_code == 0
    assert read_document(document).build.discs == ()


def test_steelwork_by_length_along_the_joints(document: Path) -> None:
    told = run("steelwork", document, "--name", "column", "--from", "a", "--to", "c", "--section", "CHS 60.3x4")
    assert told.exit_code == 0, told.output
    assert "CHS 60.3x4, 5.55 ± 0.33 kg/m over 1.00 m from a to c: 5.55 kg" in told.stdout
    found = json.loads(run("steelwork", document, "--json").stdout)
    assert [part["element"] for part in found["parts"]] == ["a", "b", "c"]
    assert found["mass_kg"] == pytest.approx(24 + 5.55377, rel=1e-5)
    other = ("--section", "angle", "--kg-per-m", 3, "--source", "a list", "--length-m", 2, "--uncertainty-percent", 10)
    assert run("steelwork", document, "--name", "column", "--from", "a", "--to", "b", *other).exit_code == 0
    (work,) = read_document(document).build.steelwork
    assert (work.kg_per_m, work.kg_per_m_uncertainty, work.length_m) == (3.0, pytest.approx(0.3), 2.0)
    assert run("steelwork", document, "--remove", "column").exit_code == 0
    assert read_document(document).build.steelwork == ()


def test_elements_of_another_material_and_bone_itself(document: Path) -> None:
    alloy = "UNS C95400 aluminium bronze"
    assert run("cast", document, "--element", "b", "--material", alloy).exit_code == 0
    assert run("cast", document, "--element", "c", "--bone", "--material", "bone with marrow spaces").exit_code == 0
    found = json.loads(run("cast", document, "--json").stdout)
    assert [mass["mass_kg"] for mass in found["elements"]] == pytest.approx([8.0, 7.45, 1.3])
    assert [mass["material"] for mass in found["elements"]] == ["bronze", alloy, "bone with marrow spaces"]
    told = run("cast", document).stdout
    assert "bone itself, of bone with marrow spaces" in told
    assert run("cast", document, "--element", "c", "--solid").exit_code == 0
    assert read_document(document).build.element_castings[1].casting.material is None


@pytest.mark.parametrize(
    ("options", "what"),
    [
        (("discs", "--joint", "b"), "no material is given"),
        (("discs", "--material", "polyethylene (PE-HD)"), "no joints are named"),
        (("discs", "--joint", "c", "--material", "polyethylene (PE-HD)"), "Give thickness and area"),
        (("discs", "--joint", "z", "--material", "polyethylene (PE-HD)", "--area-cm2", 2, "--thickness-mm", 2), "z"),
        (("discs", "--joint", "b", "--remove"), "no disc in it"),
        (("steelwork", "--name", "x", "--from", "a"), "two elements"),
        (("steelwork", "--name", "x", "--from", "a", "--to", "a", "--bar-mm", 20), "no joint tells its length"),
        (("steelwork", "--name", "x", "--from", "a", "--to", "z", "--bar-mm", 20), "z"),
        (("steelwork", "--name", "x", "--from", "a", "--to", "b", "--tube-mm", 20, 12), "does not fit"),
        (("steelwork", "--name", "x", "--from", "a", "--to", "b", "--kg-per-m", 20), "a name and a source"),
        (("steelwork", "--name", "x", "--from", "a", "--to", "b", "--section", "IPE 100"), "not in the table"),
        (("steelwork", "--remove", "x"), "none of that name"),
        (("cast", "--bone"), "no density is given"),
        (("cast", "--wall-mm", 5, "--lattice-mm", 10, 12), "no lattice"),
        (("cast", "--wall-mm", 5, "--lattice-mm", 10, 2, "--struts-share", 0.1), "given twice"),
    ],
)
def test_what_says_nothing_whole_is_refused(document: Path, options: tuple[object, ...], what: str) -> None:
    before = document.read_bytes()
    told = run(options[0], document, *options[1:])
    assert told.exit_code not in (0, 70), told.output
    assert what in told.stderr
    assert document.read_bytes() == before
