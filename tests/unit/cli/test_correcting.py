"""Putting right on the command line: what the audit finds wrong, with a reason, and back."""

from __future__ import annotations

import json

import numpy as np
import pytest
import trimesh

from core_calcs.build.materials import default_build
from core_calcs.cli import auditing, correcting
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import document_to_text, read_document, write_document
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.skeleton.table import TableRow
from core_calcs.studies.audit import audit_document
from core_calcs.studies.survey import survey_folder
from tests.found_joints import articulate
from tests.unit.cli.driving import run


def make_row(name: str, parent: str, attachment: str, position: int) -> TableRow:
    return TableRow(f"{name}.stl", None, "m", name, "dorsal", position, "middle", parent, attachment, "", "scanned")


ROWS = (
    make_row("T4", "", "root", 4),
    *(make_row(f"T{k}", f"T{k + 1}", "column", k) for k in (3, 2, 1)),
)


@pytest.fixture(scope="module")
def mounted(shapes, tmp_path_factory):
    """A document of four vertebrae with spines that lean to the tail, of which T3 was mounted upside down."""
    folder = tmp_path_factory.mktemp("mounted")
    for k in range(4):
        x = -k * shapes.PITCH
        surface = shapes.join(shapes.make_vertebra(x), shapes.make_box((0.3, 0.1, 0.5), (x - 0.2, 0, 0.95)))
        middle = np.array([0, 0, 0.4])
        vertices = middle + (surface.vertices - middle) * (1, -1, -1) if k == 2 else surface.vertices
        trimesh.Trimesh(vertices, surface.faces, process=False).export(folder / f"T{k + 1}.stl")
    skeleton = articulate(ROWS, survey_folder(folder, "m"), folder, "column", LimitSettings(search_rad=0.05))
    path = folder / "animal.json"
    write_document(path, SkeletonDocument(skeleton, (), default_build(), Site(), "."))
    return path


@pytest.fixture(scope="module")
def audits():
    """By the document's text, and whether all or some are asked about: here some are always vertebrae."""
    return {}


@pytest.fixture(autouse=True)
def audited_once(audits, monkeypatch):
    """What has been audited as it stands is not audited again."""

    def audit(document, folder, progress, among=()):
        asked = document_to_text(document), bool(among)
        if asked not in audits:
            audits[asked] = audit_document(document, folder, progress, among)
        return audits[asked]

    for command in (auditing, correcting):
        monkeypatch.setattr(command, "audit_document", audit)


@pytest.fixture
def document(mounted):
    """The same at every test's beginning."""
    kept = mounted.read_bytes()
    yield mounted
    mounted.write_bytes(kept)


def test_what_stands_upside_down_is_put_right_and_back(document):
    before = read_document(document)
    told = run("correct", document, "--element", "T3", "--reason", "its arch lies below", "--by", "A. B.", "--json")
    assert told.exit_code == 0, told.output
    record = json.loads(told.stdout)["record"]
    assert (record["action"], record["elements"]) == ("turned", ["T3"])
    assert (record["what"], record["why"], record["by"]) == ("turned upside down", "its arch lies below", "A. B.")
    assert "as placed: " in record["evidence"]
    after = read_document(document)
    assert len(after.skeleton.joint_of("T3").facets) > len(before.skeleton.joint_of("T3").facets)
    assert run("audit", document, "--strict").exit_code == 0
    assert "T3: put back: turned upside down." in run("correct", document, "--put-back", "--reason", "no").stdout
    back = read_document(document)
    for was, now in zip(before.skeleton.elements, back.skeleton.elements, strict=True):
        np.testing.assert_allclose(now.X_WE, was.X_WE, atol=1e-12)
    assert [own.action for own in back.records] == ["turned", "put back"]


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (("--reason", "why"), "nothing is named to put right"),
        (("--element", "T3", "--put-back", "--reason", "why"), "--element and --put-back do not go together"),
        (("--element", "T3"), "without a reason"),
        (("--element", "T9", "--reason", "why"), "no element of that name"),
        (("--put-back", "--reason", "why"), "nothing was put right"),
        (("--put-back", "--way", "upside down", "--reason", "why"), "--way goes with --element"),
        (("--element", "T3", "--way", "upside down", "--reason", "why"), "the audit has decided: wrong"),
        (("--element", "T1", "--reason", "why"), "the audit did not find it wrong"),
    ],
)
def test_what_cannot_be_put_right_is_refused_and_nothing_is_written(document, said, told):
    before = document.read_bytes()
    refused = run("correct", document, *said)
    assert refused.exit_code in (1, 6)
    assert told in refused.stderr
    assert document.read_bytes() == before


def test_what_the_audit_finds_as_placed_is_put_the_way_that_one_who_knows_better_chooses(document):
    verdicts = json.loads(run("audit", document, "--json").stdout)["verdicts"]
    placed = next(own for own in verdicts if own["decision"] == "as placed")
    (name,) = placed["elements"]
    assert "end for end" in run("audit", document).stdout.partition("`correct` takes --way: ")[2]
    told = run("correct", document, "--element", name, "--way", "end for end", "--reason", "its field notes", "--json")
    assert told.exit_code == 0, told.output
    record = json.loads(told.stdout)["record"]
    assert (record["elements"], record["what"]) == ([name], "turned end for end")
    assert record["evidence"].startswith("end for end: chosen by hand against the audit, which finds it as placed")
    there = next(own["places"][name] for own in placed["ratings"] if own["way"] == "end for end")
    skeleton = read_document(document).skeleton
    np.testing.assert_allclose(skeleton.elements[skeleton.index(name)].X_WE, there, atol=1e-6)


def test_what_is_undecided_is_put_the_way_that_is_chosen(place):
    """Boxes, which are the same either way."""
    verdicts = json.loads(run("audit", place.document, "--json").stdout)["verdicts"]
    ways = next(own["ratings"] for own in verdicts if own["elements"] == ["L1"])
    said = ("correct", place.document, "--element", "L1", "--reason", "its photograph", "--json", "--way")
    before = place.document.read_bytes()
    refused = run(*said, "sideways")
    assert "Choose one of: " in refused.stderr
    assert "upside down" in refused.stderr
    assert place.document.read_bytes() == before
    told = run(*said, "upside down")
    assert told.exit_code == 0, told.output
    record = json.loads(told.stdout)["record"]
    assert (record["action"], record["elements"], record["what"]) == ("turned", ["L1"], "turned upside down")
    assert record["evidence"].startswith("upside down: chosen by hand where the audit could not tell")
    skeleton = read_document(place.document).skeleton
    there = next(own["places"]["L1"] for own in ways if own["way"] == "upside down")
    np.testing.assert_allclose(skeleton.elements[skeleton.index("L1")].X_WE, there, atol=1e-6)
