"""The site and what acts there, on the command line."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from core_calcs.document.reading import read_document
from core_calcs.site.actions import Factors, Footing, Wind
from core_calcs.skeleton.kinematics import place_elements
from tests.unit.cli.driving import run


@pytest.fixture
def document(own_box_document) -> Path:
    return own_box_document[1]


def test_what_is_said_is_kept_and_shown(document):
    told = run("site", document, "--friction", 0.4, "--wind-pa", 800, "--ground-mm", -20, "--directions", 24)
    assert told.exit_code == 0, told.output
    site = read_document(document).site
    assert (site.friction, site.wind, site.ground_m, site.directions) == (0.4, Wind(800.0), -0.02, 24)
    assert site.reserve_m == 0.05  # as it was
    assert "Wind: 800 Pa on the silhouette, force coefficient 1.2, from 24 directions." in told.stdout
    assert "Friction: 0.4." in told.stdout
    assert run("site", document, "--force-coefficient", 2).exit_code == 0
    assert read_document(document).site.wind == Wind(800.0, 2.0)
    shown = run("site", document, "--json")
    assert json.loads(shown.stdout)["state"] == "as it was"
    assert json.loads(shown.stdout)["site"]["wind"] == {"pressure_Pa": 800.0, "force_coefficient": 2.0}
    assert run("site", document, "--no-wind", "--friction-unknown", "--datum-mm", 100, 50).exit_code == 0
    site = read_document(document).site
    assert (site.wind, site.friction, site.datum_m) == (None, None, (0.1, 0.05, -0.02))
    assert run("site", document, "--datum-height-mm", 1500).exit_code == 0
    assert read_document(document).site.datum_m == (0.1, 0.05, 1.5)
    assert "z 1.50 m" in run("site", document).stdout
    assert "Friction: not known." in run("site", document, "--datum-middle").stdout
    assert read_document(document).site.datum_m is None
    refused = run("site", document, "--datum-height-mm", 1500)
    assert refused.exit_code != 0
    assert "a height alone is no point" in refused.stderr


def test_footings(document):
    foot = read_document(document).skeleton.feet[1].name
    assert run("site", document, "--foot", foot, "--height-mm", 50, "--anchor-kn", 20).exit_code == 0
    assert read_document(document).site.footings == (Footing(foot, 0.05, None, None, True, 20e3),)
    told = run("site", document, "--foot", foot, "--stiffness-kn-mm", 5, "--foot-friction", 0.3)
    assert read_document(document).site.footings == (Footing(foot, 0.05, 5e6, 0.3, True, 20e3),)
    what = "ground 50.0 mm above the site's, stiffness 5 kN/mm, friction 0.3, anchored, holds 20.0 kN."
    assert f"{foot}: {what}" in told.stdout
    assert run("site", document, "--foot", foot, "--no-footing").exit_code == 0
    assert read_document(document).site.footings == ()


def test_factors_leave_a_record_and_nothing_else_does(document):
    assert run("site", document, "--friction", 0.3, "--wind-pa", 500).exit_code == 0
    assert read_document(document).records == ()
    given = ("--factor", "variable-against", 1.35, "--factor", "resistance", 1.25)
    told = run("site", document, *given, "--reason", "national annex", "--by", "A. Somebody")
    assert told.exit_code == 0, told.output
    changed = read_document(document)
    assert changed.site.factors == Factors(variable_against=1.35, resistance=1.25)
    (record,) = changed.records
    assert (record.kind, record.action, record.elements) == ("override", "factors", ())
    assert record.what == "partial factors: variable against 1.5 to 1.35; resistance 1 to 1.25"
    assert (record.why, record.by) == ("national annex", "A. Somebody")
    assert "Partial factors (changed): " in told.stdout
    assert "the site" in run("records", document).stdout
    assert run("site", document, "--default-factors").exit_code == 0
    assert [own.action for own in read_document(document).records] == ["factors", "put back"]


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--wind-pa", -1), "wind pressure: it is -1. Give the peak velocity pressure, 0 for none."),
        (("--factor", "variable-against", 0), "factor variable against: it is 0. Give a factor above 0"),
        (("--friction", -0.1), "friction: it is -0.1. Give a coefficient of 0 or more."),
        (("--force-coefficient", 1.2), "wind: its pressure is not known. Give --wind-pa too."),
        (("--wind-pa", 500, "--no-wind"), "wind: it cannot be both. Give --wind-pa or --no-wind."),
        (("--directions", 2), "directions: there are 2 of them. Give 4 to 360, all round."),
        (("--height-mm", 5), "footing: no foot is named. Give --foot NAME too."),
        (("--foot", "nobody", "--height-mm", 5), "footing of nobody: nothing of that name touches the ground."),
        (("--foot", "hind foot L"), "footing of hind foot L: nothing is said of it."),
        (("--foot", "hind foot L", "--no-footing"), "nothing is said of it. Footings there are: none."),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_written(document, options, told):
    before = document.read_bytes()
    found = run("site", document, *options)
    assert found.exit_code == 6
    assert told in found.stderr
    assert document.read_bytes() == before


def test_actions_are_added_at_spots_and_points_and_taken_out(document):
    told = run("actions", document, "--add", "push", "--element", "skull", "--spot", "highest")
    assert told.exit_code == 0, told.output
    assert run("actions", document, "--add", "person", "--element", "skull", "--at-mm", 0, 0, 70).exit_code == 0
    pull = ("--kn", 0.9, "--direction", 3, 0, -4, "--name", "rope")
    assert run("actions", document, "--add", "pull", "--element", "caudal 10", "--spot", "tip", *pull).exit_code == 0
    push, person, rope = read_document(document).site.actions
    assert (push.name, push.kind, push.force_N, push.direction) == ("push on skull", "push", 1500.0, None)
    assert push.point_m[2] == pytest.approx(0.07)
    assert (person.force_N, person.point_m) == (2000.0, (0.0, 0.0, 0.07))
    assert (rope.force_N, rope.direction) == (900.0, (0.6, 0.0, -0.8))
    assert rope.point_m[0] == pytest.approx(-0.04)  # the end away from the joint
    shown = run("actions", document)
    assert "horizontal, worst direction" in shown.stdout
    assert "down" in shown.stdout
    assert "height, looking up / left" in shown.stdout
    found = json.loads(run("actions", document, "--json").stdout)["actions"]
    kept = read_document(document)
    for pose in kept.poses:
        X = place_elements(kept.skeleton, pose)[kept.skeleton.index("skull")]
        np.testing.assert_allclose(found[1]["world_m"][pose.name], X[:3, :3] @ (0, 0, 0.07) + X[:3, 3])
    assert run("actions", document, "--remove", "rope").exit_code == 0
    assert [own.name for own in read_document(document).site.actions] == ["push on skull", "person on skull"]


def test_silhouettes_of_every_pose(document):
    assert run("site", document, "--wind-pa", 1000, "--directions", 4).exit_code == 0
    told = run("actions", document, "--silhouettes")
    assert told.exit_code == 0, told.output
    assert "unshielded" in told.stdout
    assert "a licensed structural engineer and local codes decide" in told.stdout
    found = json.loads(run("actions", document, "--silhouettes", "--json").stdout)["silhouettes"]
    areas = np.array(found["neutral"]["area_m2"])
    assert areas[0] == pytest.approx(areas[2], rel=1e-9)
    assert (np.array(found["neutral"]["unshielded_m2"]) > areas).all()
    # From the side: far legs behind near ones; boxes of the trunk and so on, all in all less than their own sum.
    assert areas[1] > areas[0]


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--element", "skull"), "actions: no kind of action is given. Give --add push"),
        (("--add", "push"), "a push: no element is named that it acts on. Give --element NAME too."),
        (("--add", "push", "--element", "skull"), "push on skull: no point is given."),
        (("--add", "push", "--element", "nobody", "--at-mm", 0, 0, 0), "there is no element 'nobody'"),
        (("--add", "push", "--element", "nobody", "--spot", "tip"), "no element of that name is in the skeleton"),
        (("--add", "push", "--element", "skull", "--at-mm", 0, 0, 900), "its point is 0.83 m off skull, which is 0.3"),
        (("--add", "push", "--element", "skull", "--at-mm", 0, 0, 0, "--kn", 0), "force: it is 0."),
        (
            ("--add", "push", "--element", "skull", "--at-mm", 0, 0, 0, "--direction", 0, 0, 0),
            "direction: it has no length. Give three numbers, not all 0.",
        ),
        (
            ("--add", "person", "--element", "skull", "--at-mm", 0, 0, 0, "--direction", 1, 0, 0),
            "a person's weight acts straight down",
        ),
        (("--remove", "rope"), "action rope: there is none of that name. There is: none."),
    ],
)
def test_actions_that_cannot_be_are_refused_and_nothing_written(document, options, told):
    before = document.read_bytes()
    found = run("actions", document, *options)
    assert found.exit_code == 6
    assert told in found.stderr
    assert document.read_bytes() == before


def test_a_name_is_there_once(document):
    add = ("actions", document, "--add", "push", "--element", "skull", "--at-mm", 0, 0, 0, "--name", "shove")
    assert run(*add).exit_code == 0
    again = run(*add)
    assert again.exit_code == 6
    assert "action shove: an action of that name is there. Choose another name." in again.stderr


def test_wind_counts_in_the_assessment_once_files_are_there(document):
    """As strong as it takes: the beast of boxes falls over, and stands again without it."""
    assert run("site", document, "--wind-pa", 1e6, "--friction", 0.4).exit_code == 0

    def overturning() -> dict[str, object]:
        found = json.loads(run("assess", document, "--pose", "neutral", "--json").stdout)["assessments"][0]
        return next(check for check in found["checks"] if check["name"].startswith("Stands against"))

    assert overturning()["state"] == "fails"
    assert "wind" in str(overturning()["place"])
    scans = document.parent / "scans"
    scans.rename(document.parent / "elsewhere")
    assert overturning()["state"] == "not known"
    (document.parent / "elsewhere").rename(scans)
    assert run("site", document, "--no-wind").exit_code == 0
    assert overturning()["state"] == "holds"
