"""The skeleton document: without loss both ways, strict, and plain about what is wrong."""

from __future__ import annotations

import dataclasses
import json
import struct
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core_calcs.build.build import (
    Build,
    Casting,
    Disc,
    ElementCasting,
    Material,
    SeriesCasting,
    Steelwork,
    Weighing,
)
from core_calcs.document.document import SCHEMA_VERSION, SkeletonDocument
from core_calcs.document.migrations import MIGRATIONS
from core_calcs.document.reading import document_from_text, document_to_text, read_document, write_document
from core_calcs.site.actions import Factors
from core_calcs.site.site import Site
from core_calcs.skeleton.element import Element, Solid, Source, Void
from core_calcs.skeleton.joint import AxisLimit, Facet, Joint, LimitSettings, Stop
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, LeftOut, build_skeleton
from core_calcs.spatial.errors import DocumentError, OutputError
from core_calcs.spatial.rotations import joint_rotation
from core_calcs.spatial.transforms import make_transform


def flatten(value: Any) -> Any:
    """The value as nested tuples with every number as its eight bytes, so that == means the same bit for bit."""
    if dataclasses.is_dataclass(value):
        return (type(value).__name__, *(flatten(getattr(value, f.name)) for f in dataclasses.fields(value)))
    if isinstance(value, np.ndarray):
        return (value.shape, value.dtype.str, value.tobytes())
    if isinstance(value, dict):
        return tuple((key, flatten(item)) for key, item in value.items())
    if isinstance(value, tuple):
        return tuple(flatten(item) for item in value)
    return struct.pack("<d", value) if isinstance(value, float) else (type(value).__name__, value)


numbers = st.floats(allow_nan=False, allow_infinity=False)
angles = st.floats(-3.0, 3.0)
points = st.tuples(numbers, numbers, numbers).map(np.array)
names = st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]), min_size=1, max_size=8)
files = st.lists(names.filter(lambda n: not set(n) & set("/\\:") and n not in (".", "..")), min_size=1, max_size=3).map(
    "/".join
)
bodies = st.none() | st.integers(1, 300)
placements = st.builds(lambda a, p: make_transform(joint_rotation(a), p), st.tuples(angles, angles, angles), points)
solids = st.builds(
    *(Solid, numbers, st.floats(0, 1e9), points, st.lists(points, min_size=3, max_size=3).map(np.array)),
    *(points, points, st.integers(0, 2**40), st.lists(st.sampled_from(["closed", "open", "inside out"])).map(tuple)),
)
lengths = st.floats(0, 1, exclude_min=True)
squares = st.lists(points, min_size=3, max_size=3).map(np.array)
voids = st.builds(
    Void,
    lengths,
    st.floats(0, 9),
    st.floats(0, 9),
    points,
    squares,
    st.floats(0, 9),
    points,
    st.none() | st.floats(0, 9),
)
materials = st.builds(Material, st.text(), st.floats(1, 2e4), st.floats(0, 1e3), st.text())
walls = (lengths, st.floats(0, 1), st.floats(0, 1), st.floats(0, 1))
castings = st.builds(Casting, st.sampled_from(["solid", "hollow"]), *walls, st.none() | materials) | st.builds(
    Casting, st.just("bone"), *walls, materials
)
stops = st.tuples(st.floats(0, 3), st.sampled_from(["bone contact", "gap", "by hand"]), st.none() | points)
limits = st.builds(lambda a, b: AxisLimit(Stop(-a[0], *a[1:]), Stop(*b)), stops, stops)
shares = st.floats(0, 1)
limit_settings = st.builds(LimitSettings, shares, shares, shares, shares, st.floats(0, 3, exclude_min=True))


@st.composite
def documents(draw: st.DrawFn) -> SkeletonDocument:
    """Made-up documents: any tree, any name, any finite number."""
    labels = draw(st.lists(names, min_size=1, max_size=5, unique=True))
    hashes = draw(st.text("0123456789abcdef", min_size=64, max_size=64))
    elements, joints = [], []
    for i, label in enumerate(labels):
        source = Source(draw(files), draw(bodies), draw(st.sampled_from([1.0, 0.001, 0.0254])), hashes)
        series = draw(st.sampled_from(["skull", "caudal", "other"]))
        measured = (draw(solids), draw(placements), tuple(draw(st.lists(voids, max_size=2))))
        element = Element(label, series, draw(bodies), "left", "scanned", source, *measured)
        elements.append(element)
        if i:
            parent = labels[draw(st.integers(0, i - 1))]
            facet = st.builds(Facet, st.just("centrum"), st.just(label), points, points, st.floats(0, 9), numbers)
            joint = Joint(
                *(parent, label, draw(st.sampled_from(["column", "fixed", "by hand"])), draw(placements)),
                draw(st.tuples(*[st.sampled_from([1, -1])] * 3)),
                draw(st.none() | st.tuples(limits, limits, limits)),
                *(
                    tuple(draw(st.lists(facet, max_size=2))),
                    "ambiguous",
                    draw(st.text()),
                    draw(st.none() | limit_settings),
                ),
            )
            joints.append(joint)
    contacts = st.builds(Contact, st.sampled_from(labels), st.lists(points, min_size=1, max_size=3).map(np.array))
    foot = st.builds(Foot, names, st.lists(contacts, max_size=2).map(tuple))
    feet = tuple(draw(st.lists(foot, max_size=2, unique_by=lambda own: own.name)))
    left_out = draw(st.lists(st.builds(LeftOut, files, bodies, st.text()), max_size=2).map(tuple))
    skeleton = build_skeleton(draw(names), tuple(elements), tuple(joints), feet, left_out)
    poses = []
    for label in draw(st.lists(names, max_size=3, unique=True)):
        turned = [joint.child for joint in joints if joint.moves and draw(st.booleans())]
        poses.append(Pose(label, {child: draw(points) for child in turned}, draw(placements), draw(st.text())))
    site = Site(
        draw(numbers),
        draw(st.floats(0, 1)),
        draw(st.none() | st.tuples(numbers, numbers, numbers)),
        draw(st.floats(0, 1)),
    )
    of_series = [
        SeriesCasting(name, draw(castings)) for name in draw(st.sampled_from([(), ("ribs",), ("skull", "limb")]))
    ]
    of_elements = [ElementCasting(name, draw(castings)) for name in labels if draw(st.booleans())]
    weighed = [Weighing(name, draw(lengths), draw(st.floats(0, 1)), draw(st.text())) for name in labels[:2]]
    named = (tuple(of_series), tuple(of_elements), tuple(weighed))
    build = Build(draw(materials), draw(castings), *named, draw(st.floats(0, 1)), *_draw_parts(draw, labels))
    return SkeletonDocument(skeleton, tuple(poses), build, site, "../meshes")


def _draw_parts(draw: st.DrawFn, labels: list[str]) -> tuple[tuple[Disc, ...], tuple[Steelwork, ...]]:
    discs = [
        Disc(child, draw(materials), draw(lengths), draw(st.floats(0, 1)), draw(lengths), draw(st.none() | lengths))
        for child in labels[1:]
        if draw(st.booleans())
    ]
    ends = st.sampled_from(labels)
    steelwork = [
        Steelwork(
            name, draw(ends), draw(ends), draw(st.text()), draw(lengths), draw(st.floats(0, 1)), "", draw(lengths)
        )
        for name in draw(st.lists(names, max_size=2, unique=True))
    ]
    return tuple(discs), tuple(steelwork)


@settings(max_examples=30, deadline=None)
@given(documents())
def test_value_text_value_is_the_same_bit_for_bit(document: SkeletonDocument) -> None:
    text = document_to_text(document)
    again = document_from_text(text, "text")
    assert flatten(again) == flatten(document)
    assert document_to_text(again) == text


def test_every_value_of_the_small_document_comes_back(document, tmp_path):
    path = tmp_path / "skeleton.json"
    write_document(path, document)
    assert flatten(read_document(path)) == flatten(document)
    assert [p.name for p in tmp_path.iterdir()] == ["skeleton.json"]
    raw = path.read_bytes()
    assert b"\r" not in raw
    assert raw.endswith(b"}\n")
    assert "肋骨 左" in raw.decode("utf-8")


def test_text_is_laid_out_to_be_read(document):
    lines = document_to_text(document).splitlines()
    assert lines[1:3] == ['  "schema": "counterpoise skeleton",', f'  "version": {SCHEMA_VERSION},']
    assert "          [1.0, 0.0, 0.0, 0.0]," in lines
    assert '            "centre_m": [0.0, -0.0, 0.3333333333333333],'[2:] in lines
    assert '          "caudal 1": [0.1, -0.2, 1e-17]'[2:] in lines
    assert max(map(len, lines)) < 160


def test_a_byte_order_mark_is_read_over(document, tmp_path):
    path = tmp_path / "skeleton.json"
    path.write_text(document_to_text(document), encoding="utf-8-sig")
    assert flatten(read_document(path)) == flatten(document)


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
    ("skeleton", [], "$.skeleton", "an object is due here, not a list"),
    ("skeleton.name", 3, "$.skeleton.name", "a text is due here, not the number 3"),
    ("skeleton.name", "", "$.skeleton.name", "not a text of one line"),
    ("skeleton.elements", {}, "$.skeleton.elements", "a list is due here, not an object"),
    ("skeleton.elements", "abc", "$.skeleton.elements", "a list is due here, not a text"),
    ("skeleton.elements", [], "$.skeleton.elements", "no element"),
    ("skeleton.elements.1", None, "$.skeleton.elements[1]", "an object is due here, not null"),
    ("skeleton.elements.1.name", ..., "$.skeleton.elements[1]", "the key 'name' is missing"),
    ("skeleton.elements.1.colour", "red", "$.skeleton.elements[1]", "the key 'colour' is not known here"),
    ("skeleton.elements.1.series", "wing", "$.skeleton.elements[1].series", "none of: skull, cervical"),
    ("skeleton.elements.1.position", 1.5, "$.skeleton.elements[1].position", "a whole number is due"),
    ("skeleton.elements.1.position", True, "$.skeleton.elements[1].position", "not true or false"),
    ("skeleton.elements.1.position", 0, "$.skeleton.elements[1].position", "less than 1"),
    ("skeleton.elements.1.solid.volume_m3", "1", "$.skeleton.elements[1].solid.volume_m3", "a number is due"),
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
    ("skeleton.joints.0.limits", [], "$.skeleton.joints[0].limits", "a list of 3 is due here, not of 0"),
    ("skeleton.joints.0.limits.1.low.angle_rad", 0.1, "joint of caudal 1", "does not include the neutral angle"),
    ("skeleton.joints.0.limits.1.low.reason", "tired", "$.skeleton.joints[0].limits[1].low.reason", "none of"),
    ("skeleton.joints.0.parent", "caudal 2", "$.skeleton, ", "circle"),
    ("skeleton.joints.1.parent", "nobody", "$.skeleton, joint of caudal 2", "there is no element 'nobody'"),
    ("skeleton.joints.1", ..., "$.skeleton, skeleton", "several elements have no parent"),
    ("skeleton.feet.0.contacts.0.points_m", [], "$.skeleton.feet[0].contacts[0].points_m", "empty"),
    ("skeleton.left_out.0.file", "..", "$.skeleton.left_out[0].file", "inside the mesh folder"),
    ("poses", {"a": 1}, "$.poses", "a list is due here"),
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
    ("site.datum_m", [1.0], "$.site.datum_m", "a list of 3 is due here, not of 1"),
    ("site.datum_m", [1.0, "x", 0.0], "$.site.datum_m[1]", "a number is due here, not a text"),
    ("mesh_folder", "/home/a", "$.mesh_folder", "relative to the document"),
    ("mesh_folder", "C:/scans", "$.mesh_folder", "relative to the document"),
    ("mesh_folder", "..\\scans", "$.mesh_folder", "relative to the document"),
    ("mesh_folder", "", "$.mesh_folder", "relative to the document"),
    ("mesh_folder", ..., "$", "the key 'mesh_folder' is missing"),
    ("comment", "hello", "$", "the key 'comment' is not known here"),
    ("version", "1", "$.version", "a whole number is due here"),
    ("version", True, "$.version", "a whole number is due here"),
    ("version", ..., "$.version", "a whole number is due here"),
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


def _turned(document: SkeletonDocument, **changes: Any) -> SkeletonDocument:
    return dataclasses.replace(document, poses=(dataclasses.replace(document.poses[1], **changes),))


@pytest.mark.parametrize(
    "change",
    [
        lambda d: _turned(d, angles_rad={"caudal 1": np.array([0.0, np.nan, 0.0])}),
        lambda d: _turned(d, angles_rad={"caudal 1": np.array([0.0, np.inf, 0.0])}),
        lambda d: _turned(d, X_WN=np.diag([1.0, 1.0, 2.0, 1.0])),
        lambda d: _turned(d, name="half a letter \ud800"),
        lambda d: dataclasses.replace(d, poses=(d.poses[0], d.poses[0])),
        lambda d: dataclasses.replace(d, site=Site(reserve_m=float("nan"))),
        lambda d: dataclasses.replace(d, mesh_folder="C:\\scans"),
        lambda d: dataclasses.replace(d, skeleton=dataclasses.replace(d.skeleton, elements=d.skeleton.elements[::-1])),
    ],
)
def test_what_would_not_read_back_is_not_written(document, tmp_path, change):
    path = tmp_path / "skeleton.json"
    path.write_text("as before", encoding="utf-8")
    with pytest.raises(DocumentError):
        write_document(path, change(document))
    assert path.read_text(encoding="utf-8") == "as before"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_is_not_there_is_a_plain_error(document, tmp_path):
    with pytest.raises(OutputError, match="cannot be written"):
        write_document(tmp_path / "none" / "skeleton.json", document)


def test_an_interrupted_write_leaves_the_old_file(document, tmp_path, monkeypatch):
    path = tmp_path / "skeleton.json"
    path.write_text("as before", encoding="utf-8")

    def fail(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", fail)
    with pytest.raises(OutputError, match="No space left"):
        write_document(path, document)
    assert path.read_text(encoding="utf-8") == "as before"
    assert list(tmp_path.iterdir()) == [path]


def test_an_older_version_is_brought_up_to_date(document, monkeypatch):
    """The mechanism, with a version 0 made up for the test in which the site's key was called `place`."""

    def rename_place(tree: dict[str, Any]) -> dict[str, Any]:
        return {"site" if key == "place" else key: value for key, value in tree.items()}

    tree = json.loads(document_to_text(document))
    tree["version"], tree["place"] = 0, tree.pop("site")
    for version in range(1, SCHEMA_VERSION):
        monkeypatch.setitem(MIGRATIONS, version, lambda tree: tree)
    with pytest.raises(DocumentError, match="no way from version 0 to 1"):
        document_from_text(json.dumps(tree), "text")
    monkeypatch.setitem(MIGRATIONS, 0, rename_place)
    assert flatten(document_from_text(json.dumps(tree), "text")) == flatten(document)


def test_version_1_had_solid_castings_alone(document):
    """What a document of version 1 says is kept; what it could not say is what it meant."""
    document = dataclasses.replace(document, poses=document.poses[:2])
    tree = json.loads(document_to_text(document))
    tree["version"], tree["build"] = 1, {"material": tree["build"]["material"]}
    for element in tree["skeleton"]["elements"]:
        del element["voids"]
    for later in (*tree["skeleton"]["feet"], *tree["poses"]):
        later.pop("origin", None)
        later.pop("idle_feet", None)
    found = document_from_text(json.dumps(tree), "text")
    assert found.build == Build(document.build.material)
    assert found.build.casting.kind == "solid"
    assert [element.voids for element in found.skeleton.elements] == [()] * 4
    assert flatten(found.poses) == flatten(tuple(dataclasses.replace(pose, idle_feet=()) for pose in document.poses))


def test_version_2_let_everything_bear_that_touches(document):
    castings = dataclasses.replace(document.build.casting, struts_doubt_share=0.0)
    kept = dataclasses.replace(document.build, casting=castings, element_castings=(), discs=(), steelwork=())
    document = dataclasses.replace(document, build=kept)
    tree = json.loads(document_to_text(document))
    tree["version"] = 2
    for foot in tree["skeleton"]["feet"]:
        del foot["origin"]
    for pose in tree["poses"]:
        del pose["idle_feet"]
    found = document_from_text(json.dumps(tree), "text")
    assert [foot.origin for foot in found.skeleton.feet] == ["proposed"]
    assert [pose.idle_feet for pose in found.poses] == [()] * 3
    assert flatten(found.build) == flatten(document.build)


def forget_pits(tree: dict[str, Any]) -> None:
    for element in tree["skeleton"]["elements"]:
        for void in element["voids"]:
            del void["holes_error_m3"], void["pits_m3"]


def test_version_6_knew_nothing_of_holes_and_pits(document):
    tree = json.loads(document_to_text(document))
    tree["version"] = 6
    forget_pits(tree)
    found = document_from_text(json.dumps(tree), "text")
    (void,) = found.skeleton.elements[0].voids
    assert (void.holes_error_m3, void.pits_m3) == (None, None)
    assert void.volume_m3 == document.skeleton.elements[0].voids[0].volume_m3


def test_version_3_had_one_material_and_castings_alone(document):
    """What a document of version 3 says is kept; nothing is added to the masses."""
    tree = json.loads(document_to_text(document))
    tree["version"], build = 3, tree["build"]
    del build["discs"], build["steelwork"], build["element_castings"][1]
    forget_pits(tree)
    for own in (build, *build["series_castings"], *build["element_castings"]):
        del own["casting"]["struts_doubt_share"], own["casting"]["material"]
    found = document_from_text(json.dumps(tree), "text").build
    assert (found.discs, found.steelwork) == ((), ())
    assert found.casting == document.build.casting
    assert found.element_castings[0].casting == dataclasses.replace(
        document.build.element_castings[0].casting, struts_doubt_share=0.0
    )


def test_version_5_had_every_element_where_it_was_scanned(document):
    tree = json.loads(document_to_text(document))
    tree["version"] = 5
    for joint in tree["skeleton"]["joints"]:
        del joint["placing"]
    found = document_from_text(json.dumps(tree), "text").skeleton
    assert [joint.placing for joint in found.joints] == [None] * 3
    assert flatten(found.elements) == flatten(document.skeleton.elements)


def test_version_7_had_every_fixed_element_follow_its_parent_alone(document):
    tree = json.loads(document_to_text(document))
    tree["version"] = 7
    for joint in tree["skeleton"]["joints"]:
        del joint["also"]
    found = document_from_text(json.dumps(tree), "text").skeleton
    assert [joint.also for joint in found.joints] == [None] * 3
    assert flatten(found.joints[2].placing) == flatten(document.skeleton.joints[2].placing)


def test_version_8_knew_of_no_second_element_in_a_table(document):
    tree = json.loads(document_to_text(document))
    tree["version"] = 8
    for joint in tree["skeleton"]["joints"]:
        del joint["also_in_table"]
    found = document_from_text(json.dumps(tree), "text").skeleton
    assert [(joint.also, joint.also_in_table) for joint in found.joints] == [
        (joint.also, None) for joint in document.skeleton.joints
    ]


def test_version_9_said_nothing_of_clearance(document):
    tree = json.loads(document_to_text(document))
    tree["version"] = 9
    del tree["site"]["clearance_share_s"]
    assert document_from_text(json.dumps(tree), "text").site == dataclasses.replace(
        document.site, clearance_share_s=0.02
    )


def test_version_16_knew_of_nothing_that_acts(document):
    tree = json.loads(document_to_text(document))
    tree["version"] = 16
    for key in ("friction", "footings", "actions", "wind", "directions", "factors"):
        del tree["site"][key]
    tree["site"]["datum_m"] = [0.5, -0.5]
    assert document_from_text(json.dumps(tree), "text").site == Site(datum_m=(0.5, -0.5, 0.0))


@pytest.mark.parametrize(("before", "after"), [(None, None), ([0.5, -0.5], (0.5, -0.5, -0.3))])
def test_version_17_had_its_datum_on_the_ground(document, before, after):
    tree = json.loads(document_to_text(document))
    tree["version"] = 17
    tree["site"] |= {"datum_m": before, "ground_m": -0.3}
    assert document_from_text(json.dumps(tree), "text").site.datum_m == after


def test_version_18_had_no_factors_for_strength(document):
    tree = json.loads(document_to_text(document))
    tree["version"] = 18
    for key in ("strength_against", "strength_for", "strength_variable", "reduction"):
        del tree["site"]["factors"][key]
    before = document.site.factors
    usual = {
        key: getattr(Factors(), key) for key in ("strength_against", "strength_for", "strength_variable", "reduction")
    }
    assert document_from_text(json.dumps(tree), "text").site.factors == dataclasses.replace(before, **usual)


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
        ("footings.0.anchored", 1, r"\$\.site\.footings\[0\]\.anchored: true or false is due here, not the number 1"),
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


def test_version_10_had_limits_alone(document):
    tree = json.loads(document_to_text(document))
    tree["version"] = 10
    for joint in tree["skeleton"]["joints"]:
        del joint["envelope"]
    found = document_from_text(json.dumps(tree), "text").skeleton
    assert [joint.envelope for joint in found.joints] == [None] * 3
    assert flatten(found.joints[0].limits) == flatten(document.skeleton.joints[0].limits)


def test_an_envelope_comes_back_and_takes_few_lines(document):
    text = document_to_text(document)
    found = document_from_text(text, "text").skeleton.joints[0].envelope
    np.testing.assert_array_equal(found.shares, document.skeleton.joints[0].envelope.shares)
    np.testing.assert_array_equal(found.scale_rad, document.skeleton.joints[0].envelope.scale_rad)
    lines = text.splitlines()
    start = next(i for i, line in enumerate(lines) if '"shares"' in line)
    rows = lines[start + 1 : next(i for i in range(start, len(lines)) if lines[i].strip() == "]")]
    assert len(rows) < 30
    assert max(map(len, rows)) <= 120


@pytest.mark.parametrize(
    ("key", "value"),
    [("shares", -0.5), ("scale_rad", [0.25, 0.5]), ("scale_rad", [-0.25, 0.0])],
)
def test_an_envelope_that_leaves_out_the_neutral_attitude_is_refused(document, key, value):
    tree = json.loads(document_to_text(document))
    tree["skeleton"]["joints"][0]["envelope"][key][1] = value
    with pytest.raises(DocumentError, match="joint of caudal 1: its envelope does not lie about the neutral attitude"):
        document_from_text(json.dumps(tree), "text")


def test_version_11_knew_of_a_facet_what_its_joint_was(document):
    tree = json.loads(document_to_text(document))
    tree["version"] = 11
    facet = tree["skeleton"]["joints"][0]["facets"][0]
    for key in ("outline_m", "surface", "how", "confidence"):
        del facet[key]
    read = document_from_text(json.dumps(tree), "text").skeleton.joints[0]
    assert (read.facets[0].outline_m, read.facets[0].surface, read.facets[0].how) == (None, None, "")
    assert read.facets[0].confidence == read.confidence == "found"


def test_version_12_kept_a_limbs_standard_errors_with_its_fit(document):
    tree = json.loads(document_to_text(document))
    tree["version"] = 12
    own, others = tree["skeleton"]["joints"][0], tree["skeleton"]["joints"][1:]
    for joint in (own, *others):
        del joint["frame_doubt"]
    own["fit"] = {
        **{"family": "hinge", "element": "caudal 1", "radii_m": [0.02], "arcs_rad": [2.0], "residual_m": 0.001},
        **{"centre_doubt_m": 0.002, "axis_doubt_rad": None, "partner_opening_share": 0.1},
    }
    read = document_from_text(json.dumps(tree), "text").skeleton.joints
    assert (read[0].frame_doubt.centre_m, read[0].frame_doubt.axes_rad) == (0.002, None)
    assert read[0].fit.radii_m == (0.02,)
    assert all(joint.frame_doubt is None for joint in read[1:])


def test_version_13_had_every_gap_as_scanned_and_discs_of_their_own(document):
    """A disc of the build that is as thick as the gap follows it; places come in to a picometre, and stay."""
    tree = json.loads(document_to_text(document))
    tree["version"] = 13
    facet, disc = tree["skeleton"]["joints"][0]["facets"][0], tree["build"]["discs"][0]
    facet["centroid_m"], facet["gap_m"] = [1 / 3, -2e-14, 0.1], 0.01 / 3
    for joint in tree["skeleton"]["joints"]:
        del joint["disc"]
    own = document_from_text(json.dumps(tree), "text")
    assert [joint.disc for joint in own.skeleton.joints] == [None] * 3
    assert (own.build.discs[0].thickness_m, own.build.discs[0].thickness_doubt_m) == (0.004, 0.001)
    assert own.skeleton.joints[0].facets[0].centroid_m.tolist() == [0.333333333333, 0.0, 0.1]
    disc["thickness_m"], disc["thickness_doubt_m"] = 0.01 / 3, 0.2 * (0.01 / 3)
    following = document_from_text(json.dumps(tree), "text")
    assert (following.build.discs[0].thickness_m, following.build.discs[0].thickness_doubt_m) == (None, None)
    assert flatten(document_from_text(document_to_text(following), "text")) == flatten(following)


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


def test_a_step_meets_a_damaged_older_document_plainly(document, monkeypatch):
    monkeypatch.setitem(MIGRATIONS, 0, lambda tree: {"site": tree["place"]})
    with pytest.raises(DocumentError, match="it is damaged: it says version 0"):
        document_from_text('{"schema": "counterpoise skeleton", "version": 0}', "text")


def test_one_file_with_two_hashes_is_refused(document):
    tree = json.loads(document_to_text(document))
    tree["skeleton"]["elements"][1]["source"]["file"] = tree["skeleton"]["elements"][0]["source"]["file"]
    tree["skeleton"]["elements"][1]["source"]["sha256"] = "f" * 64
    with pytest.raises(DocumentError, match="another SHA-256"):
        document_from_text(json.dumps(tree), "text")


def test_version_15_kept_no_records_and_mounted_nothing(document):
    kept = dataclasses.replace(document, records=(), poses=document.poses[:2])
    tree = json.loads(document_to_text(kept))
    tree["version"] = 15
    del tree["records"]
    for pose in tree["poses"]:
        del pose["mounted"]
    for element in tree["skeleton"]["elements"]:
        del element["made_from"]
    assert flatten(document_from_text(json.dumps(tree), "text")) == flatten(kept)
