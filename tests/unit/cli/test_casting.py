"""Castings on the command line."""

from __future__ import annotations

import json
import shutil

import numpy as np
import pytest

from core_calcs.cli.articulating import is_proposal
from core_calcs.document.reading import read_document
from core_calcs.studies.assess import assess
from tests.unit.cli.driving import BOXES, DENSITY, run


def test_hollow_castings_of_the_whole_a_series_and_an_element(place):
    """Closed form: each box less the box inside its wall; what was weighed goes before it."""
    order = ["--meshes", place.meshes, "--document", place.document, "--search-deg", 2]
    assert run("articulate", place.table, *order, "--wall-mm", 5).exit_code == 0
    assert is_proposal(read_document(place.document))
    told = run("cast", place.document, "--solid", "--series", "limb")
    assert told.exit_code == 0, told.stderr
    options = ("--wall-mm", 8, "--element", "L1", "--weighed", "Ca1", 2.5, 0.05, "--note", "crane scales")
    told = run("cast", place.document, *options, "--scale-uncertainty-percent", 0.2)
    assert told.exit_code == 0, told.stderr
    document = read_document(place.document)
    assert not is_proposal(document)
    assert document.build.scale_uncertainty_share == pytest.approx(0.002)
    found = assess(document.skeleton, document.poses[0], document.build, document.site)
    walls = {element.name: 5 for element in document.skeleton.elements if element.series != "limb"} | {"L1": 8}
    for mass in found.masses:
        name = next(key for key in BOXES if key.lower().replace("_", ".") == mass.element.lower())
        size, wall = np.array(BOXES[name][1], float), walls.get(mass.element, 0)
        metal = size.prod() - (size - 2 * wall).prod() if wall else size.prod()
        assert mass.calculated_kg == pytest.approx(DENSITY * metal * 1e-9, rel=0.01), mass.element
        assert mass.mass_kg == (2.5 if mass.element == "Ca1" else mass.calculated_kg)
    assert "Ca1 was weighed: 2.50 kg" in told.stdout
    assert "wall 8 ± 1.6 mm" in told.stdout
    assert "as it was" in run("cast", place.document).stdout


def test_cast_takes_a_material_of_ones_own(place):
    own = place.folder / "own.json"
    shutil.copy(place.document, own)
    said = (
        "--material",
        "house bronze",
        "--density",
        8650,
        "--density-uncertainty",
        60,
        "--density-source",
        "our own melt",
    )
    assert run("cast", own, *said).exit_code == 0
    material = read_document(own).build.material
    assert (material.name, material.density_kg_m3, material.density_uncertainty_kg_m3) == ("house bronze", 8650.0, 60.0)
    assert material.source == "our own melt"
    own.unlink()


@pytest.mark.parametrize(
    ("options", "what"),
    [
        (("--density", 8000), "needs a name, an uncertainty and a source"),
        (("--density-uncertainty", 8), "without a density"),
        (("--struts-share", 0.1), "only a hollow casting"),
        (("--solid", "--wall-mm", 5), "either solid or has a wall"),
        (("--series", "ribs"), "nothing is said of how to cast them"),
        (("--element", "Nobody", "--solid"), "Nobody"),
        (("--weighed", "Nobody", 3, 0.1), "Nobody"),
        (("--material", "kryptonite"), "kryptonite"),
    ],
)
def test_cast_refuses_what_says_nothing_whole(finished, options, what):
    before = finished.document.read_bytes()
    told = run("cast", finished.document, *options)
    assert told.exit_code not in (0, 70)
    assert what in told.stderr
    assert finished.document.read_bytes() == before


def test_assess_tries_another_casting_and_leaves_the_document(finished):
    before = finished.document.read_bytes()
    told = run("assess", finished.document, "--wall-mm", 5, "--material", "UNS C95400 aluminium bronze", "--json")
    assert told.exit_code == 0, told.stderr
    sizes = np.array([size for _, size in BOXES.values()], float)
    metal = (sizes.prod(axis=1) - (sizes - 10).prod(axis=1)).sum() * 1e-9
    assert json.loads(told.stdout)["assessments"][0]["mass_kg"] == pytest.approx(7450 * metal, rel=5e-3)
    assert finished.document.read_bytes() == before
