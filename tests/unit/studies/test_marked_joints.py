"""A joint found anew from a facet that was marked on an element's file, through the study and the command line."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from click.testing import CliRunner

from core_calcs.articulation.marked_facets import read_faces, write_faces
from core_calcs.build.materials import default_build
from core_calcs.cli import main
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import document_from_text, document_to_text, read_document, write_document
from core_calcs.mesh.proxies import make_proxy
from core_calcs.mesh.reading import read_surface
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import FacetMark, LimitSettings
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.table import TableRow
from core_calcs.spatial.errors import DocumentError, SkeletonError
from core_calcs.studies.joint_cache import JointCache
from core_calcs.studies.marked_joints import transfer_mark
from core_calcs.studies.searched_joints import place_document_joint, search_document_joint
from core_calcs.studies.survey import survey_folder
from tests.found_joints import articulate, mark_document_joint

QUICK = LimitSettings(search_rad=0.1)


def row(element, parent, attachment):
    return TableRow(f"{element}.stl", None, "m", element, "limb", None, "left", parent, attachment, "", "not known")


@pytest.fixture(scope="module")
def scene(limbs, tmp_path_factory):
    """A hinge as two files, and its document; the files' triangles are in an order of their own."""
    folder = tmp_path_factory.mktemp("hinge")
    meshes = limbs.make_meshes("cylinder")
    for name, (vertices, faces) in meshes.items():
        order = np.random.default_rng(4).permutation(len(faces))
        trimesh.Trimesh(vertices, faces[order], process=False).export(folder / f"{name}.stl")
    rows = (row("upper arm", "", "root"), row("forearm", "upper arm", "limb"))
    skeleton = articulate(rows, survey_folder(folder, "m"), folder, "hinge", QUICK, limb_search_rad=0.1)
    pose = Pose("bent", {"forearm": np.array([0.05, 0, 0])})
    document = SkeletonDocument(skeleton, (pose,), default_build(), Site(), ".")
    write_document(folder / "hinge.json", document)
    return folder, document


def roller_faces(folder):
    """The faces of the upper half of the roller: radius 1 about y."""
    raw = read_surface(folder / "upper arm.stl", 1.0)
    middle = raw.vertices[raw.faces].mean(axis=1)
    return np.flatnonzero((np.abs(np.hypot(middle[:, 0], middle[:, 2]) - 1) < 0.03) & (middle[:, 2] > 0))


def test_a_hinge_is_found_from_what_is_marked(scene):
    folder, document = scene
    marks = [FacetMark("upper arm", write_faces(roller_faces(folder)))]
    changed = mark_document_joint(document, folder, "forearm", marks, settings=QUICK)
    joint = changed.skeleton.joint_of("forearm")
    assert (joint.kind, joint.confidence, joint.fit.family) == ("limb", "found", "hinge")
    assert abs(joint.X_WJ[1, 0]) > np.cos(np.radians(1))
    assert np.hypot(joint.X_WJ[0, 3], joint.X_WJ[2, 3]) < 0.02
    assert joint.marks == tuple(marks)
    assert joint.reason.startswith("from a facet marked by hand, of which 9")
    assert set(changed.poses[0].angles_rad) == {"forearm"}


def test_the_marks_are_kept_in_the_document(scene):
    folder, document = scene
    marks = [FacetMark("upper arm", write_faces(roller_faces(folder)))]
    changed = mark_document_joint(document, folder, "forearm", marks, settings=QUICK)
    again = document_from_text(document_to_text(changed), "text").skeleton.joint_of("forearm")
    assert again.marks == tuple(marks)
    assert again.fit == changed.skeleton.joint_of("forearm").fit


def test_searched_again_it_is_found_from_the_marks_unless_they_are_to_go(scene):
    folder, document = scene
    marks = [FacetMark("upper arm", write_faces(roller_faces(folder)))]
    marked = mark_document_joint(document, folder, "forearm", marks, settings=QUICK)
    assert document_to_text(search_document_joint(marked, folder, "forearm")) == document_to_text(marked)
    wide = search_document_joint(marked, folder, "forearm", replace(QUICK, search_rad=0.2)).skeleton.joint_of("forearm")
    assert (wide.marks, wide.settings.search_rad) == (tuple(marks), 0.2)
    dropped = search_document_joint(marked, folder, "forearm", from_nothing=True).skeleton.joint_of("forearm")
    assert dropped.marks == ()
    assert dropped.fit == document.skeleton.joint_of("forearm").fit
    assert document_to_text(search_document_joint(document, folder, "forearm")) == document_to_text(document)


def test_the_same_marks_are_not_searched_twice_and_other_marks_are(scene, tmp_path):
    folder, document = scene
    faces, cache = roller_faces(folder), JointCache(tmp_path)

    def mark(faces, family=None):
        marks = [FacetMark("upper arm", write_faces(faces))]
        given = {"settings": QUICK, "cache": cache}
        return document_to_text(mark_document_joint(document, folder, "forearm", marks, family, **given))

    first = mark(faces)
    assert mark(faces) == first
    assert (cache.kept, cache.searched) == (1, 1)
    assert mark(faces[::2]) != first
    mark(faces, "ball")
    assert (cache.kept, cache.searched) == (1, 3)


def test_the_frame_of_a_hinge_moved_by_hand(scene):
    """It turns about its one axis still, wherever the user has put that."""
    folder, document = scene
    known = document.skeleton.joint_of("forearm")
    X_WJ = known.X_WJ.copy()
    X_WJ[0, 3] += 0.01
    moved = place_document_joint(document, folder, "forearm", X_WJ, "by eye").skeleton.joint_of("forearm")
    assert (moved.kind, moved.confidence, moved.reason) == ("limb", "by hand", "by eye")
    assert np.array_equal(moved.X_WJ, X_WJ)
    assert moved.senses == known.senses
    assert [limit.low.reason for limit in moved.limits[1:]] == ["held", "held"]


def test_a_family_that_does_not_fit_is_ambiguous(scene):
    folder, document = scene
    marks = [FacetMark("upper arm", write_faces(roller_faces(folder)))]
    changed = mark_document_joint(document, folder, "forearm", marks, "saddle", QUICK)
    joint = changed.skeleton.joint_of("forearm")
    assert (joint.kind, joint.confidence) == ("fixed", "ambiguous")
    assert "no saddle fits the facet" in joint.reason
    assert changed.poses[0].angles_rad == {}


def test_a_mark_on_a_proxy_is_carried_over_to_the_file(scene):
    folder, document = scene
    raw = read_surface(folder / "upper arm.stl", 1.0)
    proxy = make_proxy(raw, 3000)
    middle = proxy.vertices[proxy.faces].mean(axis=1)
    chosen = np.flatnonzero((np.abs(np.hypot(middle[:, 0], middle[:, 2]) - 1) < 0.03) & (middle[:, 2] > 0))
    element = document.skeleton.elements[0]
    mark = transfer_mark(element, folder, proxy, chosen)
    there, truth = set(read_faces(mark.faces, "")), set(roller_faces(folder))
    assert len(there & truth) > 0.9 * len(truth)
    assert len(there - truth) < 0.1 * len(truth)
    with pytest.raises(SkeletonError, match="no face of it is selected"):
        transfer_mark(element, folder, proxy, [])


@pytest.mark.parametrize(
    ("marks", "match"),
    [
        ([], "marked on neither"),
        ([FacetMark("foot", "1")], "marked on foot"),
        ([FacetMark("upper arm", "1"), FacetMark("upper arm", "2")], "marked on upper arm, upper arm"),
        ([FacetMark("upper arm", "1-x")], "'1-x' names no faces"),
        ([FacetMark("upper arm", "9-3")], "'9-3' names no faces"),
        ([FacetMark("upper arm", "99999999")], "has the number 99999999; the file has"),
        ([FacetMark("upper arm", "3")], "too small"),
    ],
)
def test_bad_marks_are_told(scene, marks, match):
    folder, document = scene
    with pytest.raises(SkeletonError, match=match):
        mark_document_joint(document, folder, "forearm", marks, settings=QUICK)


def test_another_file_is_refused(scene, tmp_path):
    folder, document = scene
    for name in ("upper arm", "forearm"):
        (tmp_path / f"{name}.stl").write_bytes((folder / f"{name}.stl").read_bytes() + b" ")
    with pytest.raises(DocumentError, match="not the files that the skeleton was made from"):
        mark_document_joint(document, tmp_path, "forearm", [FacetMark("upper arm", "0-9")])


def test_a_mark_on_a_strange_element_is_refused_by_the_document(scene):
    _, document = scene
    joint = replace(document.skeleton.joint_of("forearm"), marks=(FacetMark("tail", "1"),))
    broken = replace(document, skeleton=replace(document.skeleton, joints=(joint,)))
    with pytest.raises(DocumentError, match="neither of its elements"):
        document_to_text(broken)


def test_the_command_line_marks_and_keeps(scene, tmp_path):
    folder, _ = scene
    faces = tmp_path / "faces.txt"
    faces.write_text("\n".join(map(str, roller_faces(folder))), encoding="utf-8")
    path = folder / "by command.json"
    path.write_bytes((folder / "hinge.json").read_bytes())
    words = [
        "mark",
        str(path),
        "--joint",
        "forearm",
        "--facet",
        "upper arm",
        f"@{faces}",
        "--family",
        "hinge",
        "--json",
    ]
    told = CliRunner().invoke(main, words)
    assert told.exit_code == 0, told.output
    assert json.loads(told.stdout)["joint"]["fit"]["family"] == "hinge"
    assert read_document(path).skeleton.joint_of("forearm").marks[0].element == "upper arm"
    before = path.read_bytes()
    told = CliRunner().invoke(main, ["mark", str(path), "--joint", "forearm", "--facet", "forearm", "@nowhere.txt"])
    assert told.exit_code == 3
    assert "nowhere.txt" in told.stderr
    assert path.read_bytes() == before


@pytest.mark.parametrize("text", ["0", "0-17, 25, 40-99", "3, 5-6"])
def test_face_numbers_go_there_and_back(text):
    assert write_faces(read_faces(text, "")) == text
