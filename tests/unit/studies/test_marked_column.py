"""A joint of the column found anew from facets marked on the elements' files: boxes whose end plates are known."""

from __future__ import annotations

import json

import numpy as np
import pytest

from core_calcs.articulation.marked_facets import write_faces
from core_calcs.document.reading import document_from_text, document_to_text, read_document
from core_calcs.mesh.reading import read_surface
from core_calcs.skeleton.joint import FacetMark
from core_calcs.spatial.errors import SkeletonError
from core_calcs.studies.facet_marks import mark_facets
from core_calcs.studies.searched_joints import search_document_joint
from tests.unit.cli.conftest import finished, place  # noqa: F401  the fixtures
from tests.unit.cli.driving import run

UPPER_M = 1.0
"""The boxes of the column lie about this height."""


def list_faces(place, element, towards):  # noqa: F811
    """The upper half of the end plate that looks towards the head (+1) or the tail (-1)."""
    surface = read_surface(place.meshes / f"{element}.stl", 0.001)
    middles = surface.vertices[surface.faces].mean(axis=1)
    ends = middles[:, 0] * towards > (middles[:, 0] * towards).max() - 1e-6
    return np.flatnonzero(ends & (middles[:, 2] > UPPER_M))


def test_a_marked_end_plate_is_the_facet(place):  # noqa: F811
    document = read_document(place.document)
    before = document.skeleton.joint_of("Ca1")
    marks = [FacetMark("Ca1", write_faces(list_faces(place, "Ca1", 1)))]
    changed = mark_facets(document, place.meshes, "Ca1", marks)
    joint = changed.skeleton.joint_of("Ca1")
    assert (joint.kind, joint.confidence) == ("column", "found")
    assert joint.reason.startswith("centrum marked by hand; ")
    assert [(mark.element, mark.kind) for mark in joint.marks] == [("Ca1", "centrum")]
    plate = next(facet for facet in joint.facets if facet.element == "Ca1" and facet.kind == "centrum")
    assert plate.how == "marked by hand"
    assert plate.area_m2 == pytest.approx(0.06 * 0.03, rel=0.1)
    # Half of the child's plate counts now: the middle of the disc rises by half of what that one's middle did.
    assert joint.X_WJ[2, 3] - before.X_WJ[2, 3] == pytest.approx(0.015 / 2, abs=0.002)


def test_marks_stay_are_searched_with_and_can_be_dropped(place):  # noqa: F811
    document = read_document(place.document)
    marked = mark_facets(document, place.meshes, "Ca1", [FacetMark("Ca1", write_faces(list_faces(place, "Ca1", 1)))])
    text = document_to_text(marked)
    again = search_document_joint(document_from_text(text, "text"), place.meshes, "Ca1")
    assert document_to_text(again) == text
    both = mark_facets(marked, place.meshes, "Ca1", [FacetMark("Sacrum", write_faces(list_faces(place, "sacrum", -1)))])
    assert [mark.element for mark in both.skeleton.joint_of("Ca1").marks] == ["Ca1", "Sacrum"]
    dropped = search_document_joint(both, place.meshes, "Ca1", from_nothing=True)
    assert document_to_text(dropped) == document_to_text(document)


def test_a_zygapophysis_that_nothing_faces_is_refused(place):  # noqa: F811
    document = read_document(place.document)
    surface = read_surface(place.meshes / "Ca1.stl", 0.001)
    normals = np.cross(*np.moveaxis(np.diff(surface.vertices[surface.faces], axis=1), 1, 0))
    top = np.flatnonzero(normals[:, 2] > 0.9 * np.linalg.norm(normals, axis=1))
    mark = FacetMark("Ca1", write_faces(top), "left zygapophysis")
    with pytest.raises(SkeletonError, match="nothing of it faces the left zygapophysis that was marked on Ca1"):
        mark_facets(document, place.meshes, "Ca1", [mark])


def test_a_vertebras_facet_is_none_of_a_limb(place):  # noqa: F811
    document = read_document(place.document)
    mark = FacetMark("humerus.L", "0-9", "centrum")
    with pytest.raises(SkeletonError, match="its centrum is marked, but it is looked for as a joint of a limb"):
        mark_facets(document, place.meshes, "Humerus.L", [mark])


def test_on_the_command_line(place):  # noqa: F811
    faces = write_faces(list_faces(place, "Ca1", 1))
    told = run("mark", place.document, "--joint", "Ca1", "--facet", "Ca1", faces, "--kind", "centrum", "--json")
    assert told.exit_code == 0, told.output
    assert json.loads(told.stdout)["joint"]["marks"] == [{"element": "Ca1", "faces": faces, "kind": "centrum"}]
    wrong = run("mark", place.document, "--joint", "Ca1", "--facet", "L1", "0-9")
    assert wrong.exit_code == 6
    assert "a facet is marked on L1" in wrong.stderr
