"""A made-up column thrown anywhere and put together again; its discs are .1 m, its zygapophyses .04 m apart."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.articulation.mating import mate
from core_calcs.articulation.rim_heights import RimHeights
from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import document_from_text, document_to_text
from core_calcs.document.record import Record
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import AS_MOUNTED, Pose
from core_calcs.skeleton.table import TableRow
from core_calcs.spatial.errors import SkeletonError
from core_calcs.studies import assembly_plans
from core_calcs.studies.assembly_plans import AssemblyOrder
from core_calcs.studies.disc_surfaces import make_disc_surfaces
from core_calcs.studies.disc_thickness import ToldThickness
from core_calcs.studies.joints_by_hand import fix_document_joint
from core_calcs.studies.survey import survey_folder
from core_calcs.studies.told_gaps import ToldGap
from tests.found_joints import articulate, assemble_document, set_discs_thickness
from tests.scattered_column import find_place, measure_joint, scatter

DISC = 0.1
COLUMN = ("V2", "V1", "V4")
"""Children of its joints; the root is V3, V1 the headmost."""
TOLD = Record("correction", "assembled", (), "", "mounted anew", "", "N. N.", "2026-11-27T04:00:00Z")
QUICK = LimitSettings(search_rad=0.06)


def row(name: str, series: str, parent: str, attachment: str, position: int | None = None) -> TableRow:
    reason = "a label" if attachment == "fixed" else ""
    return TableRow(f"{name}.stl", None, "m", name, series, position, "middle", parent, attachment, reason, "scanned")


ROWS = (
    row("V3", "dorsal", "", "root", 3),
    row("V2", "dorsal", "V3", "column", 2),
    row("V1", "dorsal", "V2", "column", 1),
    row("V4", "dorsal", "V3", "column", 4),
    row("Blade", "girdle", "V1", "fixed"),
    row("Arm", "other", "Blade", "fixed"),
)


@pytest.fixture(scope="module")
def folder(shapes, tmp_path_factory) -> Path:
    solids = {f"V{k}": shapes.make_vertebra(2.513 - k) for k in (1, 2, 3, 4)}
    boxes = {"Blade": (1.6, 1.1), "Arm": (1.7, 1.9)}
    solids |= {name: shapes.make_box((0.2, 0.3, 0.4), (x, y, 0)) for name, (x, y) in boxes.items()}
    path = tmp_path_factory.mktemp("column")
    for name, surface in solids.items():
        trimesh.Trimesh(surface.vertices, surface.faces, process=False).export(path / f"{name}.stl")
    return path


@pytest.fixture(scope="module")
def document(folder: Path) -> SkeletonDocument:
    skeleton = articulate(ROWS, survey_folder(folder, "m"), folder, "column", QUICK)
    poses = (Pose("as scanned"), Pose("bent", {"V2": np.array([0.05, 0.02, -0.01])}))
    return SkeletonDocument(skeleton, poses, default_build(), Site(), ".")


@pytest.fixture(scope="module")
def put_together(document, folder):
    return assemble_document(scatter(document, COLUMN, 3), folder, AssemblyOrder(), TOLD)


def errors(before: SkeletonDocument, after: SkeletonDocument) -> tuple[np.ndarray, np.ndarray]:
    """Of all joints of the column: metres and degrees."""
    found = np.array([measure_joint(before.skeleton, after.skeleton, child) for child in COLUMN])
    return found[:, 0], np.degrees(found[:, 1])


def test_every_element_comes_back_to_its_place(document, put_together):
    off, turned = errors(document, put_together.document)
    assert off.max() < 0.01
    assert turned.max() < 0.7
    assert [joint.remarks for joint in put_together.joints] == [()] * 3
    for joint in put_together.joints:
        assert joint.facets_from == "as found before"
        assert joint.gap_from == "as before"
        assert joint.gap_m == pytest.approx(DISC, abs=0.003)
    np.testing.assert_array_equal(find_place(put_together.document.skeleton, "V3"), np.eye(4))


def test_what_hangs_on_the_column_goes_along(document, put_together):
    for child in ("Blade", "Arm"):
        off, turned = measure_joint(document.skeleton, put_together.document.skeleton, child)
        assert off < 1e-9
        assert turned < 1e-7
    before, after = (own.skeleton.joint_of("Arm") for own in (document, put_together.document))
    blade = [find_place(own.skeleton, "Blade") for own in (document, put_together.document)]
    np.testing.assert_allclose(np.linalg.inv(blade[0]) @ before.X_WJ, np.linalg.inv(blade[1]) @ after.X_WJ, atol=1e-9)


def test_the_joints_are_found_anew_where_the_elements_stand(document, put_together):
    for child in COLUMN:
        was, now = (own.skeleton.joint_of(child) for own in (document, put_together.document))
        assert now.kind == was.kind == "column"
        assert now.confidence == "found"
        np.testing.assert_allclose(now.X_WJ[:3, 3], was.X_WJ[:3, 3], atol=0.03)
        ends = [[limit.low.angle_rad for limit in own.limits] for own in (was, now)]
        np.testing.assert_allclose(*ends, atol=np.radians(2.5))
    np.testing.assert_array_equal(put_together.document.poses[1].angles_rad["V2"], document.poses[1].angles_rad["V2"])


def test_it_is_recorded_and_where_all_stood_is_kept(document, folder, put_together):
    thrown = scatter(document, COLUMN, 3)
    record = put_together.document.records[-1]
    assert (record.kind, record.action, record.by) == ("correction", "assembled", "N. N.")
    assert set(record.elements) == set(COLUMN)
    assert "V2 100" in record.evidence or "V2 99" in record.evidence or "V2 101" in record.evidence
    pose = put_together.document.poses[-1]
    assert pose.name == AS_MOUNTED
    stood = place_elements(put_together.document.skeleton, pose)
    for element, X_WE in zip(put_together.document.skeleton.elements, stood, strict=True):
        np.testing.assert_allclose(X_WE, find_place(thrown.skeleton, element.name), atol=1e-7)
    text = document_to_text(put_together.document)
    assert document_to_text(document_from_text(text, "it")) == text


def test_gaps_given_are_had_and_a_disc_that_was_set_wins(document, folder):
    thick = set_discs_thickness(document, folder, ["V4"], ToldThickness(0.15), "as in life")
    order = AssemblyOrder(ToldGap((0.05,), "share"), {"V1": ToldGap((0.2,))})
    done = assemble_document(scatter(thick, COLUMN, 5), folder, order, TOLD)
    size = {joint.child: joint for joint in done.joints}
    assert (size["V4"].gap_m, size["V4"].gap_from) == (0.15, "disc set")
    assert (size["V1"].gap_m, size["V1"].gap_from) == (0.2, "given for it")
    assert size["V2"].gap_from == "given for all"
    for child in COLUMN:
        joint = done.document.skeleton.joint_of(child)
        assert joint.gap_m == pytest.approx(size[child].gap_m, abs=0.006)
    disc = done.document.skeleton.joint_of("V4").disc
    assert disc.thickness_m == 0.15
    assert np.linalg.norm(disc.shift_m) < 0.006
    assert done.document.skeleton.joint_of("V4").gap_m == pytest.approx(0.15, abs=1e-9)


def test_between_two_pins_the_chain_is_closed(document, folder):
    """V1 stands pinned 60 mm too far from V3: its two joints share that; V4 hangs free."""
    D = np.eye(4)
    D[0, 3] = 0.06
    pulled = scatter(document, ("V2", "V4"), 4, placed={"V1": D})
    done = assemble_document(pulled, folder, AssemblyOrder(pinned=("V1",)), TOLD)
    np.testing.assert_array_equal(find_place(done.document.skeleton, "V1"), D)
    (opened,) = done.opened
    assert (opened.start, opened.end) == ("V3", "V1")
    assert opened.shift_m == pytest.approx(0.06, abs=0.01)
    shares = {joint.child: joint.share for joint in done.joints}
    assert shares["V1"].shift_m + shares["V2"].shift_m == pytest.approx(0.06, abs=0.012)
    assert abs(shares["V1"].shift_m - shares["V2"].shift_m) < 0.01
    assert shares["V4"].shift_m == 0
    middle = find_place(done.document.skeleton, "V2")[:3, 3]
    np.testing.assert_allclose(middle, [0.03, 0, 0], atol=0.02)


def test_a_joint_fixed_by_hand_goes_along_as_it_stands(document, folder):
    fixed = fix_document_joint(document, "V1", "grown together")
    done = assemble_document(scatter(fixed, ("V2", "V4"), 6), folder, AssemblyOrder(), TOLD)
    off, turned = measure_joint(document.skeleton, done.document.skeleton, "V1")
    assert off < 1e-9
    assert turned < 1e-7
    told = {joint.child: joint.facets_from for joint in done.joints}
    assert told == {"V1": "", "V2": "as found before", "V4": "as found before"}
    assert done.document.skeleton.joint_of("V1").reason == "grown together"


def test_facets_of_an_earlier_document_will_do(document, folder):
    bare = scatter(document, COLUMN, 7)
    joints = tuple(replace(joint, facets=()) for joint in bare.skeleton.joints)
    bare = replace(bare, skeleton=replace(bare.skeleton, joints=joints))
    done = assemble_document(bare, folder, AssemblyOrder(), TOLD, earlier=scatter(document, COLUMN, 8))
    off, turned = errors(document, done.document)
    assert off.max() < 0.01
    assert turned.max() < 0.7
    assert {joint.facets_from for joint in done.joints} == {"an earlier document"}


def test_two_heights_of_a_disc_make_it_a_wedge(document, folder):
    """Of the made-up discs' end plates, .6 m high: 40 mm more on the belly is a turn of 2 asin(.02 / .6)."""
    order = AssemblyOrder(ToldGap((0.1,)), {"V4": ToldGap((0.12, 0.08))})
    done = assemble_document(scatter(document, COLUMN, 3), folder, order, TOLD)
    joints = {joint.child: joint for joint in done.joints}
    assert joints["V4"].gap == RimHeights(0.12, 0.08)
    assert joints["V4"].gap_m == pytest.approx(0.1)
    assert "V4 120.0 mm ventral and 80.0 mm dorsal given for it" in done.document.records[-1].evidence
    turned = measure_joint(document.skeleton, done.document.skeleton, "V4")[1]
    assert np.degrees(turned) == pytest.approx(3.82, abs=0.6)
    assert measure_joint(document.skeleton, done.document.skeleton, "V2")[1] < np.radians(0.7)
    heights = {disc.child: disc.heights for disc in make_disc_surfaces(done.document, folder)}
    assert heights["V4"].ventral_m == pytest.approx(0.12, abs=6e-3)
    assert heights["V4"].dorsal_m == pytest.approx(0.08, abs=6e-3)


def test_a_wedge_steeper_than_discs_are_is_told(document, folder):
    order = AssemblyOrder(own={"V4": ToldGap((0.05, 0.75))})
    done = assemble_document(scatter(document, COLUMN, 3), folder, order, TOLD)
    remarks = {joint.child: joint.remarks for joint in done.joints}
    assert any("lean to each other" in remark for remark in remarks["V4"])
    assert remarks["V2"] == ()


def test_heights_that_were_not_had_are_told(document, folder, monkeypatch):
    def miss(*given):
        return replace(mate(*given), heights_m=(RimHeights(0.12, 0.3), None, None))

    monkeypatch.setattr(assembly_plans, "mate", miss)
    order = AssemblyOrder(own={"V4": ToldGap((0.12, 0.08))})
    done = assemble_document(scatter(document, COLUMN, 3), folder, order, TOLD)
    told = "the gap is 120.0 mm ventral and 300.0 mm dorsal, wanted were 120.0 mm ventral and 80.0 mm dorsal"
    assert [joint.remarks for joint in done.joints if joint.child == "V4"] == [(f"centrum: {told}",)]


def test_what_cannot_be_put_together_is_refused(document, folder):
    thrown = scatter(document, COLUMN, 3)
    for order, words in (
        (AssemblyOrder(pinned=("Arm",)), "Arm: it is pinned"),
        (AssemblyOrder(pinned=("V9",)), "V9"),
        (AssemblyOrder(own={"V3": ToldGap((0.1,))}), "V3: a gap is given"),
        (AssemblyOrder(own={"V2": ToldGap((-0.1,))}), "V2"),
        (AssemblyOrder(ToldGap((30.0,))), "Check the unit"),
        (AssemblyOrder(own={"V2": ToldGap((0.1, -0.1))}), "joint of V2: a disc cannot be -100 mm thick"),
        (AssemblyOrder(ToldGap((0.1, 30.0))), "Check the unit"),
    ):
        with pytest.raises(SkeletonError, match=words):
            assemble_document(thrown, folder, order, TOLD)
