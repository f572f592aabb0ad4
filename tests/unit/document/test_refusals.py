"""What does not fit into a document is refused, with its place and what is expected there."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from core_calcs.document.document import SCHEMA_VERSION
from core_calcs.document.reading import document_from_text, document_to_text, read_document
from core_calcs.spatial.errors import DocumentError


def _set(path: str, value: Any):
    """A change to the tree of the small document: sets (or, with ..., removes) what stands at a dotted path."""

    def change(tree: dict[str, Any]) -> None:
        *steps, last = (int(step) if step.isdigit() else step for step in path.split("."))
        for step in steps:
            tree = tree[step]
        if value is ...:
            del tree[last]
        else:
            tree[last] = value

    return change


SKEW = [[1, 0.1, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]]
MIRRORED = [[-1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]]
WRONG = [
    ("skeleton", [], "$.skeleton", "an object is expected here, not a list"),
    ("skeleton.name", 3, "$.skeleton.name", "a text is expected here, not the number 3"),
    ("skeleton.name", "", "$.skeleton.name", "not a text of one line"),
    ("skeleton.elements", {}, "$.skeleton.elements", "a list is expected here, not an object"),
    ("skeleton.elements", "abc", "$.skeleton.elements", "a list is expected here, not a text"),
    ("skeleton.elements", [], "$.skeleton.elements", "no element"),
    ("skeleton.elements.1", None, "$.skeleton.elements[1]", "an object is expected here, not null"),
    ("skeleton.elements.1.name", ..., "$.skeleton.elements[1]", "the key 'name' is missing"),
    ("skeleton.elements.1.colour", "red", "$.skeleton.elements[1]", "the key 'colour' is not known here"),
    ("skeleton.elements.1.series", "wing", "$.skeleton.elements[1].series", "none of: skull, cervical"),
    ("skeleton.elements.1.position", 1.5, "$.skeleton.elements[1].position", "a whole number is expected"),
    ("skeleton.elements.1.position", True, "$.skeleton.elements[1].position", "not true or false"),
    ("skeleton.elements.1.position", 0, "$.skeleton.elements[1].position", "less than 1"),
    ("skeleton.elements.1.solid.volume_m3", "1", "$.skeleton.elements[1].solid.volume_m3", "a number is expected"),
    ("skeleton.elements.1.solid.volume_m3", None, "$.skeleton.elements[1].solid.volume_m3", "not null"),
    ("skeleton.elements.1.solid.volume_m3", 10**400, "$.skeleton.elements[1].solid.volume_m3", "not finite"),
    ("skeleton.elements.1.solid.centre_m", [1, 2], "$.skeleton.elements[1].solid.centre_m", "a list of 3"),
    ("skeleton.elements.1.solid.centre_m", None, "$.skeleton.elements[1].solid.centre_m", "not null"),
    ("skeleton.elements.1.solid.inertia_m5.2", [0, "0", 0], "solid.inertia_m5[2][1]", "not a text"),
    ("skeleton.elements.1.source.unit_m", 0, "$.skeleton.elements[1].source.unit_m", "not greater than 0"),
    ("skeleton.elements.1.source.sha256", "AB", "$.skeleton.elements[1].source.sha256", "SHA-256"),
    ("skeleton.elements.1.source.file", "../a.stl", "$.skeleton.elements[1].source.file", "inside the mesh folder"),
    ("skeleton.elements.1.source.file", "a/../../b.stl", "elements[1].source.file", "inside the mesh folder"),
    ("skeleton.elements.1.source.file", "/etc/a.stl", "elements[1].source.file", "inside the mesh folder"),
    ("skeleton.elements.1.source.file", "C:/a.stl", "elements[1].source.file", "inside the mesh folder"),
    ("skeleton.elements.1.source.file", "c:a.stl", "elements[1].source.file", "inside the mesh folder"),
    ("skeleton.elements.1.source.file", "a\\b.stl", "elements[1].source.file", "inside the mesh folder"),
    ("skeleton.elements.1.source.file", "a/", "elements[1].source.file", "inside the mesh folder"),
    ("skeleton.elements.1.source.file", "", "elements[1].source.file", "inside the mesh folder"),
    ("skeleton.elements.1.source.file", "a.stl\n", "elements[1].source.file", "inside the mesh folder"),
    ("skeleton.elements.1.X_WE", SKEW, "$.skeleton.elements[1].X_WE", "not a rigid transform"),
    ("skeleton.elements.1.X_WE", MIRRORED, "$.skeleton.elements[1].X_WE", "not a rigid transform"),
    ("skeleton.elements.1.name", "Kreuzbein ß", "$.skeleton, Kreuzbein ß", "two elements have this name"),
    ("skeleton.joints.0.X_WJ", SKEW, "$.skeleton.joints[0].X_WJ", "not a rigid transform"),
    ("skeleton.joints.0.senses", [1, 1, 2], "$.skeleton, joint of caudal 1", "senses"),
    ("skeleton.joints.0.limits", [], "$.skeleton.joints[0].limits", "a list of 3 is expected here, not of 0"),
    ("skeleton.joints.0.limits.1.low.angle_rad", 0.1, "joint of caudal 1", "does not include the neutral angle"),
    ("skeleton.joints.0.limits.1.low.reason", "tired", "$.skeleton.joints[0].limits[1].low.reason", "none of"),
    ("skeleton.joints.0.parent", "caudal 2", "$.skeleton, ", "circle"),
    ("skeleton.joints.1.parent", "nobody", "$.skeleton, joint of caudal 2", "there is no element 'nobody'"),
    ("skeleton.joints.1", ..., "$.skeleton, skeleton", "several elements have no parent"),
    ("skeleton.feet.0.contacts.0.points_m", [], "$.skeleton.feet[0].contacts[0].points_m", "empty"),
    ("skeleton.left_out.0.file", "..", "$.skeleton.left_out[0].file", "inside the mesh folder"),
    ("poses", {"a": 1}, "$.poses", "a list is expected here"),
    ("poses.1.name", "neutral", "$.poses[1].name", "an earlier pose is named 'neutral' too"),
    ("poses.1.angles_rad", [], "$.poses[1].angles_rad", "an object of angles by joint"),
    ("poses.1.angles_rad", {"caudal 1": [1, 2]}, "$.poses[1].angles_rad['caudal 1']", "a list of 3"),
    ("poses.1.angles_rad", {"caudal 9": [1, 2, 3]}, "$.poses[1].angles_rad", "'caudal 9', which has no joint"),
    ("poses.1.angles_rad", {"肋骨 左": [1, 2, 3]}, "$.poses[1].angles_rad", "is fixed"),
    ("poses.1.X_WN", SKEW, "$.poses[1].X_WN", "not a rigid transform"),
    ("poses.2.mounted", {"caudal 9": np.eye(4).tolist()}, "$.poses[2].mounted", "'caudal 9', which is no element"),
    ("poses.2.mounted", {"caudal 1": SKEW}, "$.poses[2].mounted['caudal 1']", "not a rigid transform"),
    ("poses.2.mounted", [], "$.poses[2].mounted", "an object of places by element"),
    ("poses.2.angles_rad", {"caudal 1": [0, 0, 0]}, "$.poses[2].mounted", "both angles of joints and places"),
    ("records.0.when", "yesterday", "$.records[0].when", "a time in UTC"),
    ("records.0.what", "", "$.records[0].what", "a text of one line"),
    ("records.0.action", "painted", "$.records[0].action", "none of: turned, exchanged"),
    ("build.material.density_kg_m3", 0, "$.build.material.density_kg_m3", "not greater than 0"),
    ("site.datum_m", [1.0], "$.site.datum_m", "a list of 3 is expected here, not of 1"),
    ("site.datum_m", [1.0, "x", 0.0], "$.site.datum_m[1]", "a number is expected here, not a text"),
    ("mesh_folder", "/home/a", "$.mesh_folder", "relative to the document"),
    ("mesh_folder", "C:/scans", "$.mesh_folder", "relative to the document"),
    ("mesh_folder", "..\\scans", "$.mesh_folder", "relative to the document"),
    ("mesh_folder", "", "$.mesh_folder", "relative to the document"),
    ("mesh_folder", ..., "$", "the key 'mesh_folder' is missing"),
    ("comment", "hello", "$", "the key 'comment' is not known here"),
    ("version", "1", "$.version", "a whole number is expected here"),
    ("version", True, "$.version", "a whole number is expected here"),
    ("version", ..., "$.version", "a whole number is expected here"),
    ("version", SCHEMA_VERSION + 1, f"it is of version {SCHEMA_VERSION + 1}; this program knows", "newer Counterpoise"),
    ("version", 0, "no way from version 0 to 1", f"version {SCHEMA_VERSION}"),
    ("version", -3, "no way from version -3", f"version {SCHEMA_VERSION}"),
    ("build.casting.struts_share", 1.5, "$.build.casting.struts_share", "more than 1"),
    ("build.casting.kind", "cast", "$.build.casting.kind", "none of: solid, hollow"),
    ("build.element_castings.0.element", "Ca9", "$.build.element_castings[0].element", "no element 'Ca9'"),
    ("build.discs.0.child", "Kreuzbein ß", "$.build.discs[0].child", "no joint of 'Kreuzbein ß'"),
    ("build.discs.0.weighed_kg", 0, "$.build.discs[0].weighed_kg", "not greater than 0"),
    ("build.steelwork.0.end", "Ca9", "$.build.steelwork[0].end", "no element 'Ca9'"),
    ("build.element_castings.1.casting.material", None, "$.build", "bone itself needs a material of its own"),
    ("build.weighings.1.element", "caudal 1", "$.build.weighings[1].element", "named twice"),
    ("skeleton.elements.0.voids.0.wall_m", 0, "$.skeleton.elements[0].voids[0].wall_m", "not greater than 0"),
    ("schema", "something else", "not a skeleton document", '"schema": "counterpoise skeleton"'),
    ("schema", ..., "not a skeleton document", '"schema": "counterpoise skeleton"'),
]


@pytest.mark.parametrize(("path", "value", "where", "what"), WRONG, ids=[f"{w[0]}={w[1]!r:.20}" for w in WRONG])
def test_what_does_not_fit_is_refused_with_its_place(document, tmp_path, path, value, where, what):
    tree = json.loads(document_to_text(document))
    _set(path, value)(tree)
    file = tmp_path / "skeleton.json"
    file.write_text(json.dumps(tree), encoding="utf-8")
    with pytest.raises(DocumentError) as caught:
        read_document(file)
    message = str(caught.value)
    assert message.startswith(str(file))
    assert where in message
    assert what in message
    assert "\n" not in message


def test_several_faults_are_counted(document):
    tree = json.loads(document_to_text(document))
    _set("site.reserve_m", "a")(tree)
    _set("poses.0.note", None)(tree)
    _set("poses.1.note", 1)(tree)
    with pytest.raises(DocumentError, match=r"\$\.poses\[0\]\.note: .*\(and 2 more\)"):
        document_from_text(json.dumps(tree), "text")


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "it is empty"),
        (" \n\t", "it is empty"),
        ("solid bone\nfacet normal", "it is not JSON"),
        ("[1, 2]", "not a skeleton document"),
        ('"text"', "not a skeleton document"),
        ("null", "not a skeleton document"),
        ("{}", "not a skeleton document"),
        ("[" * 100_000, "nested too deeply"),
        ('{"schema": NaN}', "NaN, which is not a number"),
        ('{"schema": -Infinity}', "-Infinity, which is not a number"),
        ('{"a": 1, "b": 2, "a": 3}', "the key 'a' twice"),
        ('{"a": ' + "9" * 5000 + "}", "digits"),
    ],
)
def test_text_that_is_no_document_is_refused(text, what):
    with pytest.raises(DocumentError, match=r"^text block: ") as caught:
        document_from_text(text, "text block")
    assert what in str(caught.value)


@pytest.mark.parametrize("constant", ["NaN", "Infinity", "-Infinity", "1e999", "-1e999"])
def test_numbers_that_are_not_finite_are_not_read(document, constant):
    text = document_to_text(document).replace('"ground_m": 0.0', f'"ground_m": {constant}')
    assert constant in text
    with pytest.raises(DocumentError, match=r"not a number|not finite"):
        document_from_text(text, "text")


def test_text_cut_off_anywhere_is_refused(document):
    text = document_to_text(document).rstrip()
    for end in range(1, len(text), 37):
        with pytest.raises(DocumentError, match=r"text: it is (cut off|empty|not JSON)"):
            document_from_text(text[:end], "text")


def test_files_that_are_no_text_are_refused(tmp_path):
    binary = tmp_path / "bone.stl"
    binary.write_bytes(b"\0" * 80 + b"\xff\xfe\x00\x80" * 10)
    with pytest.raises(DocumentError, match="not UTF-8"):
        read_document(binary)
    with pytest.raises(DocumentError, match="there is no such file"):
        read_document(tmp_path / "nothing.json")
    with pytest.raises(DocumentError, match="cannot be read"):
        read_document(tmp_path)


@pytest.mark.parametrize(
    ("path", "value", "told"),
    [
        ("friction", -0.1, r"\$\.site\.friction: -0.1 is less than 0"),
        ("directions", 3, r"\$\.site\.directions: 3 is less than 4"),
        ("wind.pressure_Pa", -1.0, r"\$\.site\.wind\.pressure_Pa: -1.0 is less than 0"),
        ("factors.variable_against", 0.0, r"\$\.site\.factors\.variable_against: 0.0 is not greater than 0"),
        ("factors.reduction", 1.2, r"\$\.site\.factors\.reduction: 1.2 is more than 1"),
        ("actions.0.kind", "kick", "'kick' is none of: push, pull, person"),
        ("actions.0.element", "nobody", r"\$\.site, action Stoß: there is no element 'nobody'"),
        ("actions.0.point_m", [90.0, 0.0, 0.0], "action Stoß: its point is .* m off caudal 1, which is"),
        ("actions.1.direction", [1.0, 1.0, 0.0], "action a rope: its direction has the length 1.414"),
        ("actions.1.name", "Stoß", "action Stoß: it is there twice"),
        (
            "footings.0.anchored",
            1,
            r"\$\.site\.footings\[0\]\.anchored: true or false is expected here, not the number 1",
        ),
        ("footings.0.foot", "nobody", "footing of nobody: nothing of that name touches the ground"),
        ("footings.0.anchored", False, "footing of tail tip: its anchors hold a tension, but it is not anchored"),
    ],
)
def test_a_site_that_cannot_be_is_refused(document, path, value, told):
    tree = json.loads(document_to_text(document))
    *steps, last = ["site", *path.split(".")]
    at = tree
    for step in steps:
        at = at[int(step) if step.isdigit() else step]
    at[last] = value
    with pytest.raises(DocumentError, match=told):
        document_from_text(json.dumps(tree), "text")


@pytest.mark.parametrize(
    ("key", "value"),
    [("shares", -0.5), ("scale_rad", [0.25, 0.5]), ("scale_rad", [-0.25, 0.0])],
)
def test_an_envelope_that_leaves_out_the_neutral_attitude_is_refused(document, key, value):
    tree = json.loads(document_to_text(document))
    tree["skeleton"]["joints"][0]["envelope"][key][1] = value
    with pytest.raises(DocumentError, match="joint of caudal 1: its envelope does not lie about the neutral attitude"):
        document_from_text(json.dumps(tree), "text")


@pytest.mark.parametrize(
    ("idle", "message"),
    [
        (["nose"], r"\$\.poses\[1\]\.idle_feet\[0\]: there is no foot 'nose'"),
        (["tail tip", "tail tip"], r"\$\.poses\[1\]\.idle_feet\[1\]: 'tail tip' is named twice"),
    ],
)
def test_idle_feet_are_feet_each_once(document, idle, message):
    tree = json.loads(document_to_text(document))
    tree["poses"][1]["idle_feet"] = idle
    with pytest.raises(DocumentError, match=message):
        document_from_text(json.dumps(tree), "text")


def test_two_feet_of_one_name_are_refused(document):
    tree = json.loads(document_to_text(document))
    tree["skeleton"]["feet"] *= 2
    with pytest.raises(DocumentError, match="two feet have this name"):
        document_from_text(json.dumps(tree), "text")


def test_one_file_with_two_hashes_is_refused(document):
    tree = json.loads(document_to_text(document))
    tree["skeleton"]["elements"][1]["source"]["file"] = tree["skeleton"]["elements"][0]["source"]["file"]
    tree["skeleton"]["elements"][1]["source"]["sha256"] = "f" * 64
    with pytest.raises(DocumentError, match="another SHA-256"):
        document_from_text(json.dumps(tree), "text")
