"""The skeleton document: without loss both ways, whole or not at all."""

from __future__ import annotations

import dataclasses
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
from core_calcs.document.reading import document_from_text, document_to_text, read_document, write_document
from core_calcs.site.site import Site
from core_calcs.skeleton.element import Element, Solid, Source, Void
from core_calcs.skeleton.joint import AxisLimit, Facet, Joint, LimitSettings, Stop
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, LeftOut, build_skeleton
from core_calcs.spatial.errors import DocumentError, OutputError
from core_calcs.spatial.rotations import joint_rotation
from core_calcs.spatial.transforms import make_transform
from tests.unit.document.compare import flatten

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
