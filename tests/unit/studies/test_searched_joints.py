"""A joint found anew: the same settings give what it was, others move its limits, what was set by hand stays."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import document_from_text, document_to_text
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import Joint, LimitSettings
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.table import TableRow
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies import searched_joints
from core_calcs.studies.joints_by_hand import fix_document_joint, set_document_joint
from core_calcs.studies.survey import survey_folder
from tests.found_joints import articulate, place_document_joint, search_document_joint
from tests.made_up_rib import HEAD, TUBERCLE, make_vertebra_and_rib

ANGLES = np.array([0.05, 0.02, -0.01])


def row(file: str, element: str, series: str, parent: str, attachment: str, position: int | None = None) -> TableRow:
    reason = "a label" if attachment == "fixed" else ""
    return TableRow(file, None, "m", element, series, position, "middle", parent, attachment, reason, "not known")


ROWS = (
    row("one.stl", "L1", "dorsal", "", "root", 1),
    row("two.stl", "L2", "dorsal", "L1", "column", 2),
    row("three.stl", "L3", "dorsal", "L2", "column", 3),
    row("plate.stl", "Plate", "other", "L3", "fixed"),
)


@pytest.fixture(scope="module")
def folder(shapes, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("column")
    solids = {name: shapes.make_box((0.9, 0.8, 0.6), (-k, 0, 3)) for k, name in enumerate(("one", "two", "three"))}
    solids["plate"] = shapes.make_box((0.2, 0.2, 0.2), (-2, 0, 3.5))
    for name, surface in solids.items():
        trimesh.Trimesh(surface.vertices, surface.faces, process=False).export(path / f"{name}.stl")
    return path


@pytest.fixture(scope="module")
def document(folder: Path) -> SkeletonDocument:
    skeleton = articulate(ROWS, survey_folder(folder, "m"), folder, "column")
    return SkeletonDocument(skeleton, (Pose("bent", {"L3": ANGLES}),), default_build(), Site(), ".")


def bounds(joint: Joint) -> np.ndarray:
    assert joint.limits is not None
    return np.array([(limit.low.angle_rad, limit.high.angle_rad) for limit in joint.limits])


@pytest.mark.parametrize("child", ["L2", "L3"])
def test_with_the_same_settings_it_is_what_it_was(document: SkeletonDocument, folder: Path, child: str) -> None:
    again = searched_joints.search_document_joint(document, folder, child)
    assert document_to_text(again) == document_to_text(document)


def test_limits_follow_the_settings_and_angles_stay(document: SkeletonDocument, folder: Path) -> None:
    tight = LimitSettings(contact_share_s=0.0, slide_share_s=0.0, gap_share_s=0.02)
    again = search_document_joint(document, folder, "L3", tight)
    before, after = (bounds(one.skeleton.joint_of("L3")) for one in (document, again))
    assert (np.abs(after) <= np.abs(before) + 1e-9).all()
    assert np.abs(after[:2]).max() < 0.8 * np.abs(before[:2]).max()
    assert again.skeleton.joint_of("L3").settings == tight
    assert again.skeleton.joint_of("L2") is document.skeleton.joint_of("L2")
    assert np.array_equal(again.poses[0].angles_rad["L3"], ANGLES)
    back = search_document_joint(again, folder, "L3", document.skeleton.joint_of("L3").settings)
    assert document_to_text(back) == document_to_text(document)


def test_what_was_set_by_hand_stays_unless_it_is_to_go(document: SkeletonDocument, folder: Path) -> None:
    X_WJ = document.skeleton.joint_of("L3").X_WJ
    by_hand = set_document_joint(document, "L3", X_WJ[:3, 3], X_WJ[:3, :3], [(-0.1, 0.1)] * 3, "as in the drawing")
    fixed = fix_document_joint(document, "L3", "grown together")
    for changed, why in ((by_hand, "set by hand"), (fixed, "fixed by the table or by hand")):
        with pytest.raises(SkeletonError, match=why):
            search_document_joint(changed, folder, "L3")
        again = search_document_joint(changed, folder, "L3", from_nothing=True)
        assert np.array_equal(bounds(again.skeleton.joint_of("L3")), bounds(document.skeleton.joint_of("L3")))
        assert again.skeleton.joint_of("L3").kind == "column"


def test_what_no_joint_is_looked_for(document: SkeletonDocument, folder: Path) -> None:
    with pytest.raises(SkeletonError, match="fixed by the table"):
        search_document_joint(document, folder, "Plate")
    with pytest.raises(SkeletonError, match="no joint is looked for between L3 and Plate"):
        search_document_joint(document, folder, "Plate", from_nothing=True)
    with pytest.raises(SkeletonError, match="root"):
        search_document_joint(document, folder, "L1")


def test_a_frame_moved_by_hand_has_its_own_limits_and_keeps_them(document: SkeletonDocument, folder: Path) -> None:
    """Farther down, the plates' lower edges move less as the joint bends: flexion goes farther."""
    known = document.skeleton.joint_of("L3")
    X_WJ = known.X_WJ @ make_transform(np.eye(3), np.zeros(3))
    X_WJ[2, 3] -= 0.2
    moved = place_document_joint(document, folder, "L3", X_WJ, " the condyle is broken ")
    joint = document_from_text(document_to_text(moved), "test").skeleton.joint_of("L3")
    assert (joint.kind, joint.confidence, joint.reason) == ("column", "by hand", "the condyle is broken")
    assert np.array_equal(joint.X_WJ, X_WJ)
    assert joint.senses == known.senses
    assert np.abs(bounds(joint)[0] - bounds(known)[0]).max() > np.radians(1)
    assert np.array_equal(moved.poses[0].angles_rad["L3"], ANGLES)
    assert document_to_text(search_document_joint(moved, folder, "L3")) == document_to_text(moved)
    back = search_document_joint(moved, folder, "L3", from_nothing=True)
    assert document_to_text(back) == document_to_text(document)


def test_limits_set_by_hand_stay_as_the_frame_is_moved(document: SkeletonDocument, folder: Path) -> None:
    X_WJ = document.skeleton.joint_of("L3").X_WJ
    by_hand = set_document_joint(document, "L3", X_WJ[:3, 3], X_WJ[:3, :3], [(-0.1, 0.1)] * 3, "as in the drawing")
    there = X_WJ.copy()
    there[0, 3] += 0.05
    joint = place_document_joint(by_hand, folder, "L3", there, "seen on the scan").skeleton.joint_of("L3")
    assert (joint.kind, joint.reason) == ("by hand", "seen on the scan")
    assert np.array_equal(joint.X_WJ, there)
    assert bounds(joint).tolist() == [[-0.1, 0.1]] * 3


def test_a_frame_is_not_moved_without_a_reason_or_a_joint(document: SkeletonDocument, folder: Path) -> None:
    X_WJ = document.skeleton.joint_of("L3").X_WJ
    with pytest.raises(SkeletonError, match="without a reason"):
        place_document_joint(document, folder, "L3", X_WJ, " ")
    with pytest.raises(SkeletonError, match="fixed by the table"):
        place_document_joint(document, folder, "Plate", X_WJ, "why not")


def test_a_rib_that_the_table_fixes_turns_once_it_is_searched_from_nothing(tmp_path: Path) -> None:
    for name, surface in zip(("vertebra", "rib"), make_vertebra_and_rib(), strict=True):
        trimesh.Trimesh(surface.vertices, surface.faces, process=False).export(tmp_path / f"{name}.stl")
    rows = (
        row("vertebra.stl", "T1", "dorsal", "", "root", 1),
        row("rib.stl", "Rib.L", "ribs", "T1", "fixed"),
    )
    skeleton = articulate(rows, survey_folder(tmp_path, "m"), tmp_path, "rib")
    document = SkeletonDocument(skeleton, (), default_build(), Site(), ".")
    assert not skeleton.joint_of("Rib.L").moves
    with pytest.raises(SkeletonError, match="fixed by the table"):
        search_document_joint(document, tmp_path, "Rib.L")
    joint = search_document_joint(document, tmp_path, "Rib.L", from_nothing=True).skeleton.joint_of("Rib.L")
    assert joint.moves
    along = (TUBERCLE - HEAD) / np.linalg.norm(TUBERCLE - HEAD)
    assert abs(joint.X_WJ[:3, 0] @ along) > np.cos(np.radians(2))
    assert joint.settings == LimitSettings()
