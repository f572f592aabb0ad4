"""The audit of a document: a column of four made-up vertebrae of which one was mounted upside down."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.skeleton.table import TableRow
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.errors import Cancelled, DocumentError
from core_calcs.spatial.transforms import apply, is_rigid
from core_calcs.studies.audit import audit_document, list_column
from core_calcs.studies.survey import survey_folder
from tests.found_joints import articulate, correct_by_verdict

QUICK = LimitSettings(search_rad=0.05)
NAMES = ("T1", "T2", "T3", "T4")
TURNED = "T3"


def make_row(name, parent, attachment="column", series="dorsal", position=None):
    return TableRow(f"{name}.stl", None, "m", name, series, position, "middle", parent, attachment, "", "not known")


ROWS = (
    *(
        make_row(name, NAMES[k + 1] if name != "T4" else "", "column" if name != "T4" else "root", position=k + 1)
        for k, name in enumerate(NAMES)
    ),
    replace(make_row("Chevron1", "T4", "fixed", "caudal", 1), reason="a chevron hangs between two"),
)


def make_vertebra(shapes, k):
    """One of four, with a spine that leans to the tail: it is the same from no two sides."""
    x = -k * shapes.PITCH
    return shapes.join(shapes.make_vertebra(x), shapes.make_box((0.3, 0.1, 0.5), (x - 0.2, 0, 0.95)))


@pytest.fixture(scope="module")
def folder(shapes, tmp_path_factory):
    path = tmp_path_factory.mktemp("column")
    for k, name in enumerate(NAMES):
        surface = make_vertebra(shapes, k)
        if name == TURNED:  # about a line along the column, through the middle of it
            surface = replace(surface, vertices=np.array([0, 0, 0.4]) + (surface.vertices - (0, 0, 0.4)) * (1, -1, -1))
        trimesh.Trimesh(surface.vertices, surface.faces, process=False).export(path / f"{name}.stl")
    box = shapes.make_box((0.2, 0.1, 0.4), (-3.5, 0, -0.6))
    trimesh.Trimesh(box.vertices, box.faces, process=False).export(path / "Chevron1.stl")
    return path


@pytest.fixture(scope="module")
def document(folder):
    skeleton = articulate(ROWS, survey_folder(folder, "m"), folder, "column", QUICK)
    return SkeletonDocument(skeleton, (), default_build(), Site(), str(folder))


@pytest.fixture(scope="module")
def audit(document, folder):
    return audit_document(document, folder)


def test_the_column_is_its_vertebrae_from_the_head(document):
    assert [element.name for element in list_column(document.skeleton)] == list(NAMES)


def test_the_turned_one_is_found_and_its_place_is_given(audit, document, shapes):
    assert [verdict.elements for verdict in audit.verdicts] == [(name,) for name in NAMES]
    (verdict,) = audit.list_decided("wrong")
    assert verdict.elements == (TURNED,)
    assert verdict.fault == "turned"
    assert verdict.ratings[0].way == "upside down"
    X_WE = verdict.places[TURNED]
    assert is_rigid(X_WE)
    own = document.skeleton.elements[document.skeleton.index(TURNED)]
    centre = apply(X_WE, own.solid.centre_m[None])[0]
    k = NAMES.index(TURNED)
    true = make_vertebra(shapes, k)
    sound = apply(np.linalg.inv(X_WE), true.vertices)
    assert sound.min(axis=0) == pytest.approx(own.solid.lower_m, abs=0.15)
    assert centre[0] == pytest.approx(-k * shapes.PITCH, abs=0.1)


def test_what_is_found_can_be_put_right_and_is_right_then(audit, document, folder):
    (verdict,) = audit.list_decided("wrong")
    right = correct_by_verdict(document, folder, verdict, "the audit says so", "A. N.", "2026-01-01T00:00:00Z")
    again = audit_document(right, folder)
    assert again.list_decided("wrong") == ()
    assert TURNED in {verdict.elements[0] for verdict in again.list_decided("as placed")}


def test_only_the_half_that_is_asked_about_is_tried(audit, document, folder, monkeypatch):
    asked = []
    monkeypatch.setattr("core_calcs.studies.audit.audit_limbs", lambda *_: asked.append("limbs") or ())
    own = audit_document(document, folder, among=(TURNED,))
    assert asked == []
    assert [(verdict.elements, verdict.what) for verdict in own.verdicts] == [
        (verdict.elements, verdict.what) for verdict in audit.verdicts
    ]
    assert audit_document(document, folder, among=("Chevron1",)).verdicts == ()
    assert asked == ["limbs"]


def test_progress_is_told_and_may_stop_it(document, folder):
    told = []

    def stop(doing, share):
        told.append((doing, share))
        if share > 0.3:  # the column is the first half
            raise Cancelled

    with pytest.raises(Cancelled):
        audit_document(document, folder, stop)
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert any(doing.startswith("turning") for doing, _ in told)


def test_a_missing_file_is_named(document, tmp_path):
    with pytest.raises(DocumentError, match=r"T1\.stl"):
        audit_document(document, tmp_path)


def test_an_element_without_volume_is_left_out(document, tmp_path):
    skeleton = document.skeleton
    elements = tuple(replace(own, solid=replace(own.solid, volume_m3=0.0)) for own in skeleton.elements)
    changed = build_skeleton(skeleton.name, elements, skeleton.joints)
    found = audit_document(replace(document, skeleton=changed), tmp_path)
    assert found.left_out == tuple((name, "it encloses no volume") for name in NAMES)
    assert found.verdicts == ()
