"""What was put right equals what would have been found had it never been wrong; and it can be put back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.build.build import Weighing
from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import document_from_text, document_to_text
from core_calcs.document.record import Record
from core_calcs.mesh.surface import Surface
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import AS_MOUNTED, Pose
from core_calcs.skeleton.table import TableRow
from core_calcs.skeleton.verdict import Rating, Verdict
from core_calcs.spatial.errors import DocumentError, SkeletonError
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.assess import assess
from core_calcs.studies.contacts_by_hand import add_contact
from core_calcs.studies.corrections import last_correction
from core_calcs.studies.disc_thickness import ToldThickness
from core_calcs.studies.survey import survey_folder
from tests.found_joints import articulate, correct, correct_by_verdict, put_back, set_discs_thickness

SETTINGS = LimitSettings(search_rad=0.3)
ANGLES = {"V2": np.array([0.05, 0.02, -0.01]), "V4": np.array([-0.03, 0.0, 0.04])}
TOLD = Record("correction", "turned", (), "turned end for end", "its facets face the tail", "0.31 s² to 0.05", "A. B.",
              "2026-11-27T03:10:00Z")  # fmt: skip
WHEN = "2026-11-27T03:10:00Z"
HALF_TURN = np.diag([-1.0, -1.0, 1.0])
"""About the back's axis: end for end."""


def row(name: str, parent: str, attachment: str, series: str = "dorsal", position: int | None = None) -> TableRow:
    reason = "a label" if attachment == "fixed" else ""
    return TableRow(f"{name}.stl", None, "m", name, series, position, "middle", parent, attachment, reason, "scanned")


ROWS = (
    row("V3", "", "root", position=3),
    row("V2", "V3", "column", position=2),
    row("V1", "V2", "column", position=1),
    row("V4", "V3", "column", position=4),
    row("Rib", "V2", "fixed", "ribs"),
)


def turn_about(point: np.ndarray) -> np.ndarray:
    return make_transform(HALF_TURN, point - HALF_TURN @ point)


def move(surface: Surface, X: np.ndarray) -> Surface:
    return Surface(surface.vertices @ X[:3, :3].T + X[:3, 3], surface.faces)


def write(path: Path, surfaces: dict[str, Surface]) -> Path:
    for name, surface in surfaces.items():
        trimesh.Trimesh(surface.vertices, surface.faces, process=False).export(path / f"{name}.stl")
    return path


def make_document(folder: Path) -> SkeletonDocument:
    skeleton = articulate(ROWS, survey_folder(folder, "m"), folder, "column", SETTINGS)
    return SkeletonDocument(skeleton, (Pose("as scanned"), Pose("bent", ANGLES)), default_build(), Site(), ".")


@pytest.fixture(scope="module")
def sound_surfaces(shapes) -> dict[str, Surface]:
    found = {f"V{k}": shapes.make_vertebra(2.513 - k) for k in (1, 2, 3, 4)}
    found["V4"] = Surface(found["V4"].vertices * (1, 1.02, 1.02), found["V4"].faces)
    return found | {"Rib": shapes.make_box((0.2, 0.3, 0.4), (1.0, 0.7, 0))}


@pytest.fixture(scope="module")
def sound(sound_surfaces, tmp_path_factory) -> SkeletonDocument:
    return make_document(write(tmp_path_factory.mktemp("sound"), sound_surfaces))


@pytest.fixture(scope="module")
def centre(sound) -> np.ndarray:
    return sound.skeleton.elements[sound.skeleton.index("V2")].solid.centre_m


@pytest.fixture(scope="module")
def wrong_folder(sound_surfaces, centre, tmp_path_factory) -> Path:
    """V2 was mounted end for end."""
    turned = sound_surfaces | {"V2": move(sound_surfaces["V2"], turn_about(centre))}
    return write(tmp_path_factory.mktemp("wrong"), turned)


@pytest.fixture(scope="module")
def wrong(wrong_folder) -> SkeletonDocument:
    return make_document(wrong_folder)


@pytest.fixture(scope="module")
def right(wrong, wrong_folder, centre) -> SkeletonDocument:
    return correct(wrong, wrong_folder, "turned", {"V2": turn_about(centre)}, TOLD)


def bounds(document: SkeletonDocument, child: str) -> np.ndarray:
    limits = document.skeleton.joint_of(child).limits
    return np.degrees([(limit.low.angle_rad, limit.high.angle_rad) for limit in limits])


def test_joints_and_limits_are_those_of_a_sound_mount(sound, wrong, right):
    """Samples fall elsewhere on a file that was turned: half a degree, as between a bone and its mirror image."""
    assert len(wrong.skeleton.joint_of("V2").facets) < len(sound.skeleton.joint_of("V2").facets)
    for child in ("V1", "V2", "V4"):
        ours, theirs = (own.skeleton.joint_of(child) for own in (right, sound))
        assert (ours.kind, ours.confidence, len(ours.facets)) == (theirs.kind, theirs.confidence, len(theirs.facets))
        np.testing.assert_allclose(ours.X_WJ, theirs.X_WJ, atol=0.005)
        np.testing.assert_allclose(bounds(right, child), bounds(sound, child), atol=0.5)
    assert [own.X_WE.tolist() for own in right.skeleton.elements if own.name != "V2"] == [np.eye(4).tolist()] * 4


def test_figures_are_those_of_a_sound_mount(sound, right):
    """The same material stands in the same places: masses to rounding, and joint loads where the joints are."""
    ours, theirs = (assess(own.skeleton, own.poses[0], own.build, own.site) for own in (right, sound))
    assert ours.mass_kg == pytest.approx(theirs.mass_kg, rel=1e-6)
    np.testing.assert_allclose(ours.centre_m, theirs.centre_m, atol=1e-6)
    np.testing.assert_allclose(ours.inertia_kg_m2, theirs.inertia_kg_m2, rtol=1e-5, atol=1e-3)


def test_poses_keep_their_angles_and_how_it_was_mounted_is_a_pose(wrong, right):
    np.testing.assert_array_equal(right.poses[1].angles_rad["V4"], ANGLES["V4"])
    mounted = right.poses[-1]
    assert mounted.name == AS_MOUNTED
    assert not mounted.angles_rad
    before = place_elements(wrong.skeleton, wrong.poses[0])
    now = place_elements(right.skeleton, mounted)
    np.testing.assert_allclose(now, before, atol=1e-12)
    told = assess(right.skeleton, mounted, right.build, right.site)
    before_told = assess(wrong.skeleton, wrong.poses[0], wrong.build, wrong.site)
    np.testing.assert_allclose(told.centre_m, before_told.centre_m, atol=1e-9)
    use = next(use for use in told.uses if use.child == "V2")
    assert np.degrees(np.abs(use.angles_rad)).max() == pytest.approx(180, abs=1)
    assert use.inside_rad < 0


def test_the_record_says_what_why_on_what_evidence_by_whom_and_when(right):
    (record,) = right.records
    assert (record.kind, record.action, record.elements) == ("correction", "turned", ("V2",))
    assert (record.what, record.why, record.evidence) == (TOLD.what, TOLD.why, TOLD.evidence)
    assert (record.by, record.when) == (TOLD.by, TOLD.when)
    assert set(record.before) == {"V2"}
    again = document_from_text(document_to_text(right), "text")
    assert document_to_text(again) == document_to_text(right)
    np.testing.assert_array_equal(again.records[0].before["V2"], record.before["V2"])


def test_it_can_be_put_back(wrong, right, wrong_folder):
    back = put_back(right, wrong_folder, replace(TOLD, what="", why="it was no error"))
    assert [record.action for record in back.records] == ["turned", "put back"]
    assert back.records[1].what == "put back: turned end for end"
    assert last_correction(back) is None
    for ours, theirs in zip(back.skeleton.elements, wrong.skeleton.elements, strict=True):
        np.testing.assert_allclose(ours.X_WE, theirs.X_WE, atol=1e-12)
    with pytest.raises(SkeletonError, match="nothing was put right"):
        put_back(back, wrong_folder, TOLD)


def test_discs_that_are_set_stay(right, wrong, wrong_folder, centre):
    """Set and then turned is turned and then set."""
    told = ToldThickness(0.14)
    joints = [child for child in ("V2", "V4") if wrong.skeleton.joint_of(child).gap_m is not None]
    assert "V4" in joints
    thick = set_discs_thickness(wrong, wrong_folder, ("V4",), told, "why")
    first = correct(thick, wrong_folder, "turned", {"V2": turn_about(centre)}, TOLD)
    then = set_discs_thickness(right, wrong_folder, ("V4",), told, "why")
    for ours, theirs in zip(first.skeleton.elements, then.skeleton.elements, strict=True):
        np.testing.assert_allclose(ours.X_WE, theirs.X_WE, atol=1e-9)
    np.testing.assert_allclose(bounds(first, "V4"), bounds(then, "V4"), atol=1e-9)


@pytest.fixture(scope="module")
def swapped_folder(sound_surfaces, tmp_path_factory) -> Path:
    """V2 and V4 stand in each other's place."""
    along = make_transform(np.eye(3), [2.0, 0, 0])
    moved = {"V2": move(sound_surfaces["V4"], along), "V4": move(sound_surfaces["V2"], np.linalg.inv(along))}
    return write(tmp_path_factory.mktemp("swapped"), sound_surfaces | moved)


@pytest.mark.slow
def test_two_are_exchanged_with_all_that_is_told_of_their_surfaces(sound, swapped_folder):
    swapped = make_document(swapped_folder)
    swapped = add_contact(swapped, "stand", ["V4"], swapped_folder)
    weighed = replace(swapped.build, weighings=(Weighing("V2", 9.0, 0.1, "crane"),))
    swapped = replace(swapped, build=weighed)
    along = make_transform(np.eye(3), [2.0, 0, 0])
    places = {"V2": np.linalg.inv(along), "V4": along}
    found = correct(swapped, swapped_folder, "exchanged", places, replace(TOLD, what="exchanged"))
    of = {own.name: own for own in found.skeleton.elements}
    assert (of["V2"].source.file, of["V4"].source.file) == ("V4.stl", "V2.stl")
    assert [own.element for own in found.build.weighings] == ["V4"]
    for child in ("V1", "V2", "V4"):
        np.testing.assert_allclose(found.skeleton.joint_of(child).X_WJ, sound.skeleton.joint_of(child).X_WJ, atol=1e-5)
        np.testing.assert_allclose(bounds(found, child), bounds(sound, child), atol=0.05)
    # what it stands on is where the new surface reaches, and the mounted pose is where the files have it
    foot, X = found.skeleton.feet[0].contacts[0], of["V4"].X_WE
    points = foot.points_m @ X[:3, :3].T + X[:3, 3]
    assert points[:, 0].mean() == pytest.approx(2.513 - 4, abs=0.2)
    mounted = place_elements(found.skeleton, found.poses[-1])
    np.testing.assert_allclose(mounted, np.tile(np.eye(4), (5, 1, 1)), atol=1e-12)
    back = put_back(found, swapped_folder, TOLD)
    assert [own.source.file for own in back.skeleton.elements] == [own.source.file for own in swapped.skeleton.elements]
    for own in back.skeleton.elements:
        np.testing.assert_allclose(own.X_WE, np.eye(4), atol=1e-12)
    assert [own.element for own in back.build.weighings] == ["V2"]


@pytest.mark.parametrize(
    ("fault", "names", "told"),
    [
        ("turned", ("V9",), "no element of that name"),
        ("turned", ("V1", "V2"), "cannot be put right as turned"),
        ("exchanged", ("V1",), "cannot be put right as exchanged"),
    ],
)
def test_what_cannot_be_is_refused(wrong, wrong_folder, fault, names, told):
    with pytest.raises(SkeletonError, match=told):
        correct(wrong, wrong_folder, fault, {name: np.eye(4) for name in names}, TOLD)


def test_a_mirrored_place_and_a_missing_file_are_refused(wrong, wrong_folder, tmp_path, centre):
    with pytest.raises(SkeletonError, match="not a rigid transform"):
        correct(wrong, wrong_folder, "turned", {"V2": np.diag([1.0, -1.0, 1.0, 1.0])}, TOLD)
    with pytest.raises(DocumentError, match="does not hold"):
        correct(wrong, tmp_path, "turned", {"V2": turn_about(centre)}, TOLD)


def make_verdict(decision, places=None) -> Verdict:
    ratings = (Rating("end for end", 3.4, (("facets that meet [s2]", 0.31),)), Rating("as placed", 1.2, ()))
    return Verdict("turned", ("V2",), decision, ratings, places or {}, "it meets its neighbours better end for end")


def test_an_audits_figures_are_the_evidence(wrong, wrong_folder, centre, right):
    found = correct_by_verdict(
        wrong, wrong_folder, make_verdict("wrong", {"V2": turn_about(centre)}), " facets face the tail ", "A. B.", WHEN
    )
    (record,) = found.records
    assert (record.action, record.what, record.why) == ("turned", "turned end for end", "facets face the tail")
    assert record.evidence == (
        "it meets its neighbours better end for end. Ways tried, the best first: end for end: 3.40 (facets that meet "
        "[s2] 0.31); as placed: 1.20"
    )
    np.testing.assert_array_equal(found.skeleton.elements[1].X_WE, right.skeleton.elements[1].X_WE)


def test_what_an_audit_does_not_find_wrong_is_left_alone(wrong, wrong_folder, centre):
    with pytest.raises(SkeletonError, match="did not find it wrong, but undecided"):
        correct_by_verdict(wrong, wrong_folder, make_verdict("undecided"), "why", "", WHEN)
    with pytest.raises(SkeletonError, match="without a reason"):
        correct_by_verdict(wrong, wrong_folder, make_verdict("wrong", {"V2": turn_about(centre)}), " ", "", WHEN)
