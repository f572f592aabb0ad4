"""Missing bones on the command line."""

from __future__ import annotations

import json

import pytest

from core_calcs.cli.articulating import is_proposal
from core_calcs.document.reading import read_document
from core_calcs.skeleton.table import read_table, write_table
from tests.unit.cli.driving import Place, list_files, run

SAID = ("--name", "Femur.L", "--mirror-of", "Femur.R", "--reason", "lost on the dig", "--by", "A. B.")


def articulate(place: Place):
    given = ("--meshes", place.meshes, "--document", place.document, "--search-deg", 10, "--replace")
    return run("articulate", place.table, *given)


@pytest.fixture
def lacking(place: Place) -> Place:
    """The made-up animal without its left thigh bone."""
    write_table(place.table, [row for row in read_table(place.table) if row.element != "Femur.L"])
    (place.meshes / "femur_L.stl").unlink()
    made = articulate(place)
    assert made.exit_code == 0, made.output
    return place


def test_what_is_missing_is_shown_and_made(lacking):
    shown = run("missing", lacking.document, "--json")
    assert shown.exit_code == 0, shown.output
    (found,) = json.loads(shown.stdout)["missing"]
    assert (found["kind"], found["name"], found["way"], found["source"]) == (
        "partner",
        "Femur.L",
        "mirrored",
        "Femur.R",
    )
    assert "--mirror-of Femur.R" in run("missing", lacking.document).stdout
    made = run("add-bone", lacking.document, *SAID)
    assert made.exit_code == 0, made.output
    assert "carried over with its parent" in made.stdout
    document = read_document(lacking.document)
    element = document.skeleton.elements[document.skeleton.index("Femur.L")]
    assert (element.origin, element.made_from, element.source.file) == ("mirrored", "Femur.R", "made/Femur.L.ply")
    assert element.solid.centre_m == pytest.approx((0, 0.11, 0.48), abs=1e-5)
    assert (document.records[-1].by, document.records[-1].why) == ("A. B.", "lost on the dig")
    assert not is_proposal(document)
    after = run("missing", lacking.document)
    assert "Nothing seems to be missing." in after.stdout
    assert ["Femur.L", "mirrored", "Femur.R"] in [line.split() for line in after.stdout.splitlines()]


def test_the_left_foot_stands_on_it_again(lacking):
    assert "hind left foot" not in {foot.name for foot in read_document(lacking.document).skeleton.feet}
    assert run("add-bone", lacking.document, *SAID).exit_code == 0
    feet = read_document(lacking.document).skeleton.feet
    assert {foot.contacts[0].element for foot in feet} >= {"Femur.L", "Femur.R"}


def test_the_hand_over_tells_what_it_was_made_of(lacking, tmp_path):
    assert run("add-bone", lacking.document, *SAID).exit_code == 0
    out = tmp_path / "out"
    told = run("handover", lacking.document, out)
    assert told.exit_code == 0, told.output
    (table,) = out.glob("*/elements.csv")
    lines = [line.split(",") for line in table.read_text(encoding="utf-8").splitlines()]
    made = next(dict(zip(lines[0], line, strict=True)) for line in lines if line[0] == "Femur.L")
    assert (made["origin"], made["made_from"]) == ("mirrored", "Femur.R")
    (report,) = table.parent.glob("report.html")
    assert "Made here of others, and not found: Femur.L (mirrored of Femur.R)." in report.read_text(encoding="utf-8")


def test_no_table_makes_a_find_of_it(lacking):
    """Its file says what it is: a proposal takes that over, and a table that says otherwise is refused."""
    assert run("add-bone", lacking.document, *SAID).exit_code == 0
    assert run("survey", lacking.meshes, "--table", lacking.table, "--propose-again").exit_code == 0
    rows = read_table(lacking.table)
    assert {row.element: row.origin for row in rows}["Femur.L"] == "mirrored"
    again = articulate(lacking)
    assert again.exit_code == 0, again.output
    skeleton = read_document(lacking.document).skeleton
    assert skeleton.elements[skeleton.index("Femur.L")].made_from == "Femur.R"
    fields = [row.__dict__ | {"origin": "scanned"} for row in rows]
    write_table(lacking.table, [type(rows[0])(**own) for own in fields])
    refused = articulate(lacking)
    assert refused.exit_code == 4
    assert "says that it was mirrored of Femur.R, not scanned" in refused.stderr


def test_a_table_that_has_the_bone_too_gives_the_same_skeleton_anew(lacking):
    said = run("add-bone", lacking.document, *SAID, "--table", lacking.table)
    assert said.exit_code == 0, said.output
    made = read_document(lacking.document).skeleton
    assert articulate(lacking).exit_code == 0
    again = read_document(lacking.document).skeleton
    assert [own.name for own in again.elements] == [own.name for own in made.elements]
    one, other = (own.elements[own.index("Femur.L")] for own in (made, again))
    assert (one.origin, one.made_from, one.source) == (other.origin, other.made_from, other.source)
    for before, after in zip(made.joints, again.joints, strict=True):
        assert (before.parent, before.child, before.kind) == (after.parent, after.child, after.kind)
    assert _list_contacts(again) == _list_contacts(made)


def _list_contacts(skeleton) -> set[str]:
    return {contact.element for foot in skeleton.feet for contact in foot.contacts}


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (SAID[:2], "what it is made of is given twice or not at all"),
        ((*SAID, "--scale-of", "L1"), "what it is made of is given twice or not at all"),
        (SAID[:4], "it is made without a reason"),
        (("--name", "L1", *SAID[2:]), "an element of that name"),
        (("--name", "L1", "--mirror-of", "L1", "--parent", "T1"), "it keeps its parent"),
        (("--name", "L1", "--scale-of", "L1"), "it cannot be scaled of itself"),
    ],
)
def test_what_is_not_said_whole_is_refused_and_nothing_is_written(lacking, said, told):
    before = list_files(lacking.folder)
    refused = run("add-bone", lacking.document, *said)
    assert refused.exit_code in (1, 6)
    assert told in refused.stderr
    assert list_files(lacking.folder) == before


def test_file_and_document_come_together_or_not_at_all(lacking, monkeypatch):
    before = list_files(lacking.folder)
    from core_calcs.cli import bones
    from core_calcs.spatial.errors import OutputError

    def fail(*_given):
        raise OutputError(str(lacking.document), "it cannot be written", "look")

    monkeypatch.setattr(bones, "write_document", fail)
    assert run("add-bone", lacking.document, *SAID).exit_code == 7
    assert list_files(lacking.folder) == before
