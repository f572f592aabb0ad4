"""What was set by hand between two states of a document is told: what, before, why; and nothing else is."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import document_from_text, document_to_text
from core_calcs.document.record import Record
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import FacetMark, LimitSettings
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.table import TableRow
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.disc_thickness import ToldThickness
from core_calcs.studies.joints_by_hand import fix_document_joint, set_document_joint
from core_calcs.studies.overrides import record_overrides
from core_calcs.studies.places_by_hand import (
    move_and_turn,
    place_in_document,
    restore_in_document,
    straddle_in_document,
)
from core_calcs.studies.survey import survey_folder
from tests.found_joints import (
    articulate,
    place_document_joint,
    restore_discs,
    search_document_joint,
    set_discs_thickness,
)

WHEN, BY = "2026-11-27T03:10:00Z", " A. B. "
LIMITS = [(-0.2, 0.3), (0.0, 0.0), (-0.1, 0.1)]


def row(name: str, series: str, parent: str, attachment: str, position: int | None = None) -> TableRow:
    reason = "a label" if attachment == "fixed" else ""
    return TableRow(f"{name}.stl", None, "m", name, series, position, "middle", parent, attachment, reason, "scanned")


ROWS = (
    row("V1", "dorsal", "", "root", 1),
    row("V2", "dorsal", "V1", "column", 2),
    row("Plate", "other", "V2", "fixed"),
)


@pytest.fixture(scope="module")
def folder(shapes, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("column")
    solids = {f"V{k}": shapes.make_vertebra(1.513 - k) for k in (1, 2)}
    solids["Plate"] = shapes.make_box((0.2, 0.2, 0.2), (-0.5, 0, 1.5))
    for name, surface in solids.items():
        trimesh.Trimesh(surface.vertices, surface.faces, process=False).export(path / f"{name}.stl")
    return path


@pytest.fixture(scope="module")
def document(folder: Path) -> SkeletonDocument:
    skeleton = articulate(ROWS, survey_folder(folder, "m"), folder, "column", LimitSettings(search_rad=0.1))
    return SkeletonDocument(skeleton, (Pose("as scanned"),), default_build(), Site(), ".")


def tell(before: SkeletonDocument, after: SkeletonDocument) -> list[Record]:
    told = record_overrides(before, after, BY, WHEN)
    again = document_from_text(document_to_text(told), "text")
    assert document_to_text(again) == document_to_text(told)
    for record in told.records:
        assert (record.kind, record.by, record.when) == ("override", "A. B.", WHEN)
    return list(told.records)


def test_nothing_is_told_of_what_was_not_set_by_hand(document):
    renamed = replace(document, poses=(Pose("another", {"V2": np.array([0.01, 0, 0])}),), site=Site(reserve_m=0.1))
    assert not tell(document, document)
    assert not tell(document, renamed)


def test_a_joint_that_was_set_and_fixed(document):
    joint = document.skeleton.joint_of("V2")
    X = joint.X_WJ
    given = ("V2", X[:3, 3] + (0.01, 0, 0), X[:3, :3], LIMITS, "published for that species")
    changed = set_document_joint(document, *given)
    (record,) = tell(document, changed)
    assert (record.action, record.elements, record.why) == ("joint set", ("V2",), "published for that species")
    assert record.what.startswith("flexion -11.5 to 17.2°, lateral held, axial -5.7 to 5.7°; before: flexion -5.7 to ")
    assert record.what.endswith("; its frame moved by 10.0 mm")
    assert not tell(changed, changed)
    (fixed,) = tell(changed, fix_document_joint(changed, "V2", "grown together"))
    assert (fixed.action, fixed.why) == ("joint fixed", "grown together")
    assert fixed.what == "fixed; before: flexion -11.5 to 17.2°, lateral held, axial -5.7 to 5.7°"


def test_a_search_from_nothing_gives_it_up(document, folder):
    X = document.skeleton.joint_of("V2").X_WJ
    changed = set_document_joint(document, "V2", X[:3, 3], X[:3, :3], LIMITS, "why")
    (record,) = tell(changed, search_document_joint(changed, folder, "V2", from_nothing=True))
    assert record.action == "put back"
    assert record.what.startswith("searched for from nothing: flexion ")


def test_settings_that_differ(document, folder):
    own = LimitSettings(search_rad=0.1, contact_share_s=0.01)
    (record,) = tell(document, search_document_joint(document, folder, "V2", own))
    assert record.action == "settings"
    assert record.what.startswith("contact in s 0.02 to 0.01: flexion ")


def test_a_frame_that_was_moved(document, folder):
    X = make_transform(np.eye(3), [0.02, 0, 0]) @ document.skeleton.joint_of("V2").X_WJ
    (record,) = tell(document, place_document_joint(document, folder, "V2", X, "the disc was thicker in front"))
    assert (record.action, record.why) == ("frame moved", "the disc was thicker in front")
    assert record.what.startswith("its frame moved by 20.0 mm; flexion ")


def test_a_disc_and_back(document, folder):
    thick = set_discs_thickness(document, folder, ("V2",), ToldThickness(0.12), "fresh ones have that")
    (record,) = tell(document, thick)
    assert (record.action, record.why) == ("disc", "fresh ones have that")
    gap = 1000 * document.skeleton.joint_of("V2").gap_m
    assert record.what == f"disc 120.0 mm thick; before {gap:.1f} mm"
    (back,) = tell(thick, restore_discs(thick, folder, ("V2",)))
    assert (back.action, back.what) == ("put back", "disc back to the gap that was scanned; it was 120.0 mm")


def test_a_place_and_back_and_two_that_it_follows(document):
    X_WE = move_and_turn(document.skeleton, "Plate", (0.01, 0, 0))
    placed = place_in_document(document, "Plate", X_WE, "it hung too low")
    (record,) = tell(document, placed)
    assert (record.action, record.why) == ("placed", "it hung too low")
    assert record.what == "moved by 10.0 mm (x 10, y 0, z 0)"
    (back,) = tell(placed, restore_in_document(placed, "Plate"))
    assert (back.action, back.what) == ("put back", "back to where it was scanned")
    both = straddle_in_document(document, "Plate", "V1")
    (record,) = tell(document, both)
    assert (record.action, record.what) == ("follows two", "follows V2 and V1, half and half")
    (record,) = tell(both, straddle_in_document(both, "Plate", None))
    assert (record.action, record.what) == ("put back", "follows V2 alone")


def test_marks(document):
    joint = replace(document.skeleton.joint_of("V2"), marks=(FacetMark("V2", "0-17", "centrum"),))
    joints = tuple(joint if own.child == "V2" else own for own in document.skeleton.joints)
    marked = replace(document, skeleton=replace(document.skeleton, joints=joints))
    (record,) = tell(document, marked)
    assert (record.action, record.what) == ("facet marked", "found from facets marked by hand: centrum on V2")
    (record,) = tell(marked, document)
    assert (record.action, record.what) == ("put back", "its marked facets are given up")


def test_a_document_that_told_it_itself_is_left_alone(document):
    joint = document.skeleton.joint_of("V2")
    own = Record("correction", "turned", ("V2",), "turned", "", "", "", WHEN)
    changed = set_document_joint(document, "V2", joint.X_WJ[:3, 3], joint.X_WJ[:3, :3], LIMITS, "why")
    assert record_overrides(document, replace(changed, records=(own,)), BY, WHEN).records == (own,)
