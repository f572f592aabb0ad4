"""Discs as thick as the user says: a column of made-up vertebrae whose discs are .1 m, moved as one rigid whole."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core_calcs.articulation.partner import SAMPLES_A_SIZE
from core_calcs.build.materials import default_build
from core_calcs.build.parts import list_parts
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.editing import set_build
from core_calcs.document.reading import document_from_text, document_to_text
from core_calcs.site.site import Site
from core_calcs.skeleton.discs import find_disc_shifts, put_discs_in, take_discs_out
from core_calcs.skeleton.joint import Joint, LimitSettings
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.table import TableRow
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.assess import assess
from core_calcs.studies.disc_thickness import (
    ToldThickness,
    describe_growth,
    describe_overlaps,
    list_disc_joints,
    list_discs,
)
from core_calcs.studies.joints_by_hand import fix_document_joint, set_document_joint
from core_calcs.studies.marked_joints import mark_document_joint
from core_calcs.studies.parts import DiscOrder, set_discs
from core_calcs.studies.places_by_hand import (
    list_free,
    move_and_turn,
    place_in_document,
    restore_in_document,
    straddle_in_document,
)
from core_calcs.studies.searched_joints import search_document_joint
from core_calcs.studies.survey import survey_folder
from tests import found_joints
from tests.found_joints import articulate, place_document_joint, restore_discs, set_discs_thickness
from tests.made_up_vertebrae import Shape, make_vertebrae

DISC = 0.1
"""Of the made-up column."""
COLUMN = ("V2", "V1", "V4")
"""Children of its joints; the root is V3, V1 the headmost."""
WHY = "no cartilage on the scans"
ANGLES = {"V2": np.array([0.05, 0.02, -0.01]), "V4": np.array([-0.03, 0.0, 0.04])}


def row(name: str, series: str, parent: str, attachment: str, position: int | None = None) -> TableRow:
    reason = "a label" if attachment == "fixed" else ""
    return TableRow(f"{name}.stl", None, "m", name, series, position, "middle", parent, attachment, reason, "scanned")


ROWS = (
    row("V3", "dorsal", "", "root", 3),
    row("V2", "dorsal", "V3", "column", 2),
    row("V1", "dorsal", "V2", "column", 1),
    row("V4", "dorsal", "V3", "column", 4),
    row("Rib", "ribs", "V2", "fixed"),
    row("Blade", "girdle", "V1", "fixed"),
    row("Arm", "other", "Blade", "fixed"),
)
QUICK = LimitSettings(search_rad=0.06)


def write(path: Path, surfaces) -> Path:
    for name, surface in surfaces.items():
        trimesh.Trimesh(surface.vertices, surface.faces, process=False).export(path / f"{name}.stl")
    return path


@pytest.fixture(scope="module")
def folder(shapes, tmp_path_factory) -> Path:
    solids = {f"V{k}": shapes.make_vertebra(2.513 - k) for k in (1, 2, 3, 4)}
    boxes = {"Rib": (1.0, 0.7), "Blade": (1.6, 1.1), "Arm": (1.7, 1.9)}
    solids |= {name: shapes.make_box((0.2, 0.3, 0.4), (x, y, 0)) for name, (x, y) in boxes.items()}
    return write(tmp_path_factory.mktemp("column"), solids)


@pytest.fixture(scope="module")
def document(folder: Path) -> SkeletonDocument:
    skeleton = articulate(ROWS, survey_folder(folder, "m"), folder, "column", QUICK)
    poses = (Pose("as scanned"), Pose("bent", ANGLES))
    plain = SkeletonDocument(skeleton, poses, default_build(), Site(), ".")
    return straddle_in_document(plain, "Rib", "V1")


@pytest.fixture(scope="module")
def thick(document: SkeletonDocument, folder: Path) -> SkeletonDocument:
    return set_discs_thickness(document, folder, COLUMN, ToldThickness(0.18), f" {WHY} ")


def place(document: SkeletonDocument, name: str) -> np.ndarray:
    return document.skeleton.elements[document.skeleton.index(name)].X_WE


def discs(document: SkeletonDocument) -> dict:
    return {disc.child: disc for disc in list_discs(document.skeleton)}


def bounds(joint: Joint) -> np.ndarray:
    assert joint.limits is not None
    return np.array([(limit.low.angle_rad, limit.high.angle_rad) for limit in joint.limits])


def test_neutral_moves_by_what_the_discs_are_thicker(document, thick):
    """x is to the head: towards it every disc adds its .08 m, and towards the tail as well; a rib goes halfway."""
    moves = {name: place(thick, name)[:3, 3] - place(document, name)[:3, 3] for name in ("V1", "V2", "V3", "V4")}
    for name, far in (("V3", 0), ("V2", 0.08), ("V1", 0.16), ("V4", -0.08)):
        np.testing.assert_allclose(moves[name], [far, 0, 0], atol=0.002)
    for name, disc in discs(thick).items():
        assert disc.thickness_m == thick.skeleton.joint_of(name).disc.thickness_m == 0.18
        assert thick.skeleton.joint_of(name).gap_m == pytest.approx(0.18, abs=1e-11)
        assert disc.scanned_m == pytest.approx(document.skeleton.joint_of(name).gap_m, abs=1e-11)
        assert disc.scanned_m == pytest.approx(DISC, abs=0.002)
        assert disc.reason == WHY
    np.testing.assert_allclose(
        moves["V1"][0], 3 * 0.18 - sum(discs(document)[name].scanned_m for name in COLUMN) + moves["V4"][0], atol=1e-6
    )
    for name in ("Blade", "Arm"):
        np.testing.assert_allclose(place(thick, name)[:3, 3], moves["V1"], atol=1e-11)
    np.testing.assert_allclose(place(thick, "Rib")[:3, 3], (moves["V1"] + moves["V2"]) / 2, atol=1e-11)
    grown = 3 * 0.18 - sum(disc.scanned_m for disc in list_discs(document.skeleton))
    told = f"3 discs are set: together {1000 * grown:.1f} mm thicker than as scanned."
    assert describe_growth(list_discs(thick.skeleton)) == told


def test_all_else_that_a_joint_says_goes_along(document, thick):
    shifts = find_disc_shifts(thick.skeleton)
    for was, now in zip(document.skeleton.joints, thick.skeleton.joints, strict=True):
        by = shifts[now.child if now.also else now.parent]
        if not now.moves:
            np.testing.assert_allclose(now.X_WJ[:3, 3], was.X_WJ[:3, 3] + by, atol=1e-11)
            continue
        middle = (shifts[now.parent] + shifts[now.child]) / 2  # the middle of the disc
        np.testing.assert_allclose(now.X_WJ[:3, 3], was.X_WJ[:3, 3] + middle, atol=1e-11)
        assert len(now.facets) == len(was.facets) == 6
        for one, other in zip(was.facets, now.facets, strict=True):
            np.testing.assert_allclose(other.centroid_m, one.centroid_m + shifts[one.element], atol=1e-11)
            np.testing.assert_allclose(other.outline_m, one.outline_m + shifts[one.element], atol=1e-11)


def test_set_back_it_is_the_very_same_document(document, thick, folder):
    text = document_to_text(document)
    assert document_to_text(thick) != text
    read_again = document_from_text(document_to_text(thick), "test")
    assert document_to_text(restore_discs(read_again, folder, COLUMN)) == text
    one_by_one = thick
    for child in ("V1", "V4", "V2"):
        one_by_one = restore_discs(one_by_one, folder, [child])
    assert document_to_text(one_by_one) == text


@pytest.mark.slow
def test_the_order_in_which_discs_are_set_does_not_matter(document, thick, folder):
    changed = document
    for child in ("V4", "V1", "V2"):
        changed = set_discs_thickness(changed, folder, [child], ToldThickness(0.06), "thin")
    for child in ("V1", "V2", "V4"):
        changed = set_discs_thickness(changed, folder, [child], ToldThickness(0.18), WHY)
    assert document_to_text(changed) == document_to_text(thick)


def test_angles_of_poses_stay_and_what_weighs_does(document, thick):
    assert [pose.angles_rad for pose in thick.poses] == [pose.angles_rad for pose in document.poses]
    for pose in document.poses:
        before, after = (assess(one.skeleton, pose, one.build, one.site) for one in (document, thick))
        assert after.mass_kg == before.mass_kg


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(shifts=st.lists(st.tuples(*[st.floats(-0.3, 0.3)] * 3), min_size=3, max_size=3))
def test_whatever_discs_do_the_mass_stays_and_the_way_back_is_exact(thick, shifts):
    """Any shift: what is on the grid comes back to the bit."""
    given_back = {}
    for child, shift in zip(COLUMN, shifts, strict=True):
        disc = replace(thick.skeleton.joint_of(child).disc, shift_m=np.round(np.array(shift), 12) + 0.0)
        given_back[child] = disc
    scanned = take_discs_out(thick.skeleton)
    joints = tuple(replace(j, disc=given_back.get(j.child)) for j in scanned.joints)
    bare = replace(thick, skeleton=replace(scanned, joints=joints), poses=())
    moved = replace(bare, skeleton=put_discs_in(bare.skeleton))
    again = replace(moved, skeleton=take_discs_out(moved.skeleton))
    assert document_to_text(again) == document_to_text(bare)
    neutral = Pose("neutral")
    masses = {assess(one.skeleton, neutral, one.build, one.site).mass_kg for one in (bare, moved)}
    assert len(masses) == 1


def test_limits_are_found_anew_there(folder, tmp_path):
    """Two square plates: bone meets bone where tan(angle / 2) is the disc's thickness over the plates' height.

    The outermost samples stand for the rim: they lie no farther inwards than samples are apart.
    """
    height, apart = 0.6, np.cbrt(0.9 * 0.8 * 0.6) / SAMPLES_A_SIZE
    solids = {"V3": (-0.5, 3), "V2": (0.5, 2)}
    for name, (x, _) in solids.items():
        trimesh.Trimesh(*_box(x, height), process=False).export(tmp_path / f"{name}.stl")
    free = LimitSettings(contact_share_s=0.0, slide_share_s=0.0, gap_share_s=9.0, search_rad=np.radians(50))
    skeleton = articulate(ROWS[:2], survey_folder(tmp_path, "m"), tmp_path, "two", free)
    document = SkeletonDocument(skeleton, (), default_build(), Site(), ".")
    for thickness in (0.05, 0.2):
        changed = set_discs_thickness(document, tmp_path, ["V2"], ToldThickness(thickness), WHY)
        flexion = bounds(changed.skeleton.joint_of("V2"))[0]
        least, most = (2 * np.arctan(thickness / high) for high in (height, height - 2 * apart))
        assert (np.abs(flexion) > least - np.radians(0.1)).all()
        assert (np.abs(flexion) < most + np.radians(0.1)).all()


@pytest.mark.slow
def test_round_plates_turn_as_far_whatever_the_disc(shapes, tmp_path):
    """A disc is bound by how far it is pulled aside: 2 asin(gap / 2 R √.95), however thick it is."""
    radius = 0.4
    for name, x in (("V3", -0.5), ("V2", 0.5)):
        drum = trimesh.creation.cylinder(radius, 0.9, sections=96)
        drum = drum.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, [0, 1, 0], [0, 0, 0]))
        drum.apply_translation([x, 0, 0])
        drum.subdivide().export(tmp_path / f"{name}.stl")
    skeleton = articulate(ROWS[:2], survey_folder(tmp_path, "m"), tmp_path, "two", LimitSettings())
    document = SkeletonDocument(skeleton, (), default_build(), Site(), ".")
    size = float(np.cbrt(np.pi * radius**2 * 0.9))
    expected = 2 * np.arcsin(0.15 * size / (2 * radius * np.sqrt(0.95)))
    for thickness in (0.05, 0.1, 0.2):
        changed = set_discs_thickness(document, tmp_path, ["V2"], ToldThickness(thickness), WHY)
        axial = bounds(changed.skeleton.joint_of("V2"))[2]
        np.testing.assert_allclose(np.abs(axial), expected, atol=np.radians(0.7))


def _box(x: float, height: float):
    mesh = trimesh.creation.box((0.9, 0.8, height)).subdivide().subdivide()
    mesh.apply_translation((x, 0, 0))
    return mesh.vertices, mesh.faces


def test_a_ball_stays_the_centre_and_half_an_arc_ends_flexion(tmp_path):
    """Ball and cotyle .05 apart, zygapophyses on arcs of 30° about the ball: drawn together by half of that gap."""
    for name, surface in zip(("V2", "V3"), make_vertebrae(Shape(0.36, 30)), strict=True):
        trimesh.Trimesh(surface.vertices, surface.faces, process=False).export(tmp_path / f"{name}.stl")
    free = LimitSettings(gap_share_s=100.0, search_rad=np.radians(25))
    skeleton = articulate(ROWS[:2], survey_folder(tmp_path, "m"), tmp_path, "ball", free)
    document = SkeletonDocument(skeleton, (), default_build(), Site(), ".")
    was = skeleton.joint_of("V2")
    now = set_discs_thickness(document, tmp_path, ["V2"], ToldThickness(0.04), WHY).skeleton.joint_of("V2")
    assert "condyle" in was.reason
    assert "condyle" in now.reason
    np.testing.assert_allclose(now.X_WJ, was.X_WJ, atol=1e-9)  # the ball is the parent's
    np.testing.assert_allclose(np.abs(bounds(now)[0]), np.radians(15), atol=np.radians(4))


def test_a_share_is_of_the_size_and_nought_is_touching(document, folder):
    size = np.cbrt(min(document.skeleton.elements[document.skeleton.index(n)].solid.volume_m3 for n in ("V1", "V2")))
    changed = set_discs_thickness(document, folder, ["V1"], ToldThickness(share_s=0.05), WHY)
    assert discs(changed)["V1"].thickness_m == pytest.approx(0.05 * size)
    touching = set_discs_thickness(document, folder, ["V1"], ToldThickness(0.0), WHY)
    assert touching.skeleton.joint_of("V1").gap_m == pytest.approx(0, abs=1e-11)


def test_a_search_keeps_the_disc(thick, folder):
    assert document_to_text(search_document_joint(thick, folder, "V1")) == document_to_text(thick)
    from_nothing = found_joints.search_document_joint(thick, folder, "V2", from_nothing=True)
    assert document_to_text(from_nothing) == document_to_text(thick)
    wider = search_document_joint(thick, folder, "V1", LimitSettings(search_rad=0.04))
    assert wider.skeleton.joint_of("V1").disc.thickness_m == 0.18
    assert np.array_equal(place(wider, "V1"), place(thick, "V1"))


def test_what_was_set_by_hand_stays(document, folder):
    X_WJ = document.skeleton.joint_of("V1").X_WJ
    by_hand = set_document_joint(document, "V1", X_WJ[:3, 3], X_WJ[:3, :3], [(-0.1, 0.1)] * 3, "as in the drawing")
    changed = set_discs_thickness(by_hand, folder, COLUMN, ToldThickness(0.18), WHY)
    joint = changed.skeleton.joint_of("V1")
    assert (joint.kind, joint.reason) == ("by hand", "as in the drawing")
    assert bounds(joint).tolist() == [[-0.1, 0.1]] * 3
    assert joint.gap_m == pytest.approx(0.18, abs=1e-11)
    np.testing.assert_allclose(joint.X_WJ[:3, 3] - X_WJ[:3, 3], [0.08, 0, 0], atol=0.001)  # with its parent V2
    np.testing.assert_allclose(place(changed, "V1")[:3, 3], [0.16, 0, 0], atol=0.002)
    thinner = set_discs_thickness(changed, folder, ["V1"], ToldThickness(0.05), WHY)
    back = restore_discs(thinner, folder, ("V1", "V2", "V4"))
    assert document_to_text(back) == document_to_text(by_hand)


@pytest.mark.slow
def test_a_frame_moved_by_hand_stays_on_its_parent(document, folder):
    X_WJ = document.skeleton.joint_of("V1").X_WJ @ make_transform(np.eye(3), [0, 0, 0.125])
    moved = place_document_joint(document, folder, "V1", np.round(X_WJ, 12), "seen on the scan")
    changed = set_discs_thickness(moved, folder, ("V1", "V2"), ToldThickness(0.15), WHY)
    joint = changed.skeleton.joint_of("V1")
    assert (joint.confidence, joint.reason) == ("by hand", "seen on the scan")
    by = find_disc_shifts(changed.skeleton)["V2"]
    np.testing.assert_allclose(joint.X_WJ[:3, 3], np.round(X_WJ, 12)[:3, 3] + by, atol=1e-11)
    assert document_to_text(restore_discs(changed, folder, ("V1", "V2"))) == document_to_text(moved)
    again = place_document_joint(changed, folder, "V1", joint.X_WJ, "seen on the scan")
    assert document_to_text(again) == document_to_text(changed)


def test_a_joint_fixed_after_its_disc_was_set_goes_back_too(document, thick, folder):
    fixed = fix_document_joint(thick, "V4", "grown together")
    back = restore_discs(fixed, folder, COLUMN)
    expected = fix_document_joint(document, "V4", "grown together").skeleton.joint_of("V4")
    joint = back.skeleton.joint_of("V4")
    assert (joint.kind, joint.disc) == ("fixed", None)
    assert joint.gap_m == expected.gap_m
    assert np.array_equal(place(back, "V4"), place(document, "V4"))


@pytest.mark.slow
def test_places_by_hand_and_discs_in_either_order(document, folder):
    """The blade is moved on V1; discs move V1: what hangs on it goes along, and both ways back lead to the scan."""
    turned = move_and_turn(document.skeleton, "Blade", (0.1, 0, 0.2), (0, 0, 1), 0.3)
    placed = place_in_document(document, "Blade", turned, "in the drawing")
    first = set_discs_thickness(placed, folder, COLUMN, ToldThickness(0.18), WHY)
    later = set_discs_thickness(document, folder, COLUMN, ToldThickness(0.18), WHY)
    there = move_and_turn(later.skeleton, "Blade", (0.1, 0, 0.2), (0, 0, 1), 0.3)
    later = place_in_document(later, "Blade", there, "in the drawing")
    for name in ("Blade", "Arm"):
        np.testing.assert_allclose(place(first, name), place(later, name), atol=1e-11)
    back = restore_in_document(restore_discs(later, folder, COLUMN), "Blade")
    for element in document.skeleton.elements:
        np.testing.assert_allclose(place(back, element.name), element.X_WE, atol=1e-11)


def test_what_straddles_goes_halfway_whenever_it_is_said(document, thick, folder):
    alone = straddle_in_document(thick, "Rib", None)
    np.testing.assert_allclose(place(alone, "Rib"), place(thick, "V2"), atol=1e-11)
    assert document_to_text(straddle_in_document(alone, "Rib", "V1")) == document_to_text(thick)
    moved = place_in_document(thick, "Rib", move_and_turn(thick.skeleton, "Rib", (0, 0.1, 0)), "nearer")
    thin = set_discs_thickness(moved, folder, ["V1"], ToldThickness(share_s=0.05), WHY)
    back = restore_in_document(thin, "Rib")
    expected = (place(thin, "V1") + place(thin, "V2")) / 2
    np.testing.assert_allclose(place(back, "Rib"), expected, atol=1e-11)


def test_discs_of_the_build_are_as_thick_as_the_gap_is_now(document, folder):
    order = DiscOrder(default_build().material)
    build = set_discs(document.build, document.skeleton, ("V1", "V2"), order)
    build = set_discs(build, document.skeleton, ("V2",), replace(order, thickness_m=0.02))
    cast = set_build(document, build)
    changed = set_discs_thickness(cast, folder, COLUMN, ToldThickness(0.18), WHY)
    before, after = ({p.name: p.mass_kg for p in list_parts(d.skeleton, build)} for d in (cast, changed))
    scanned = discs(document)["V1"].scanned_m
    assert after["V1"] / before["V1"] == pytest.approx(0.18 / scanned)
    assert after["V2"] == before["V2"]
    with pytest.raises(SkeletonError, match="no gap for a disc"):
        set_discs_thickness(cast, folder, ["V1"], ToldThickness(0.0), WHY)


@pytest.mark.parametrize(
    ("children", "told", "reason", "what"),
    [
        (("V1",), ToldThickness(-0.001), WHY, "cannot be -1 mm thick"),
        (("V1",), ToldThickness(float("nan")), WHY, "cannot be nan mm thick"),
        (("V1",), ToldThickness(float("inf")), WHY, "cannot be inf mm thick"),
        (("V1",), ToldThickness(18.0), WHY, "Check the unit"),
        (("V1",), ToldThickness(0.6), WHY, "do not lie over each other"),
        (("V1",), ToldThickness(0.1), "  ", "without a reason"),
        (("V1",), ToldThickness(), WHY, "given twice or not at all"),
        (("V1",), ToldThickness(0.1, 0.1), WHY, "given twice or not at all"),
        ((), ToldThickness(0.1), WHY, "no joint is named"),
        (("Blade",), ToldThickness(0.1), WHY, "no end plates"),
        (("V3",), ToldThickness(0.1), WHY, "the root has no joint"),
        (("V9",), ToldThickness(0.1), WHY, "V9"),
    ],
)
def test_what_cannot_be(document, folder, children, told, reason, what):
    with pytest.raises(SkeletonError, match=what):
        set_discs_thickness(document, folder, children, told, reason)


def test_what_else_cannot_be(document, thick, folder):
    fixed = fix_document_joint(document, "V1", "grown together")
    assert "V1" not in list_disc_joints(fixed.skeleton)
    with pytest.raises(SkeletonError, match="it is fixed"):
        set_discs_thickness(fixed, folder, ["V1"], ToldThickness(0.1), WHY)
    with pytest.raises(SkeletonError, match="its disc is as scanned"):
        restore_discs(document, folder, ["V1"])
    grown = fix_document_joint(thick, "V1", "grown together")
    assert "V1" not in list_free(grown.skeleton)
    with pytest.raises(SkeletonError, match="Set that disc back"):
        place_in_document(grown, "V1", np.eye(4), "why not")
    with pytest.raises(SkeletonError, match="the thickness of its disc was set"):
        mark_document_joint(thick, folder, "V1", ())


def test_facets_that_run_into_each_other_are_told(document, folder):
    """End plates drawn together do not close plates that only slide; drawn beyond, a facet that leans would."""
    assert describe_overlaps(document.skeleton, COLUMN) == ()
    assert describe_growth(list_discs(document.skeleton)) == "All discs are as thick as the gaps that were scanned."
    joint = document.skeleton.joint_of("V1")
    facets = tuple(replace(f, gap_m=-0.0021) if f.kind != "centrum" else f for f in joint.facets)
    joints = tuple(replace(j, facets=facets) if j.child == "V1" else j for j in document.skeleton.joints)
    told = describe_overlaps(replace(document.skeleton, joints=joints), COLUMN)
    assert len(told) == 4
    assert "runs 2.1 mm into its partner" in told[0]
