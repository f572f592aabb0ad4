"""From a folder of mesh files and a table to a skeleton: a made-up animal, and the dog."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from core_calcs.skeleton.joint import LimitSettings
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.proposal import propose_table
from core_calcs.skeleton.table import TableRow
from core_calcs.spatial.errors import Cancelled, MeshFileError, TableError
from core_calcs.studies.articulate import articulate, describe_joints
from core_calcs.studies.survey import survey_folder
from tests import found_joints

QUICK = LimitSettings(search_rad=0.1)


def row(file, element, series, parent, attachment, reason="", position=None, side="middle", body=None):
    return TableRow(file, body, "m", element, series, position, side, parent, attachment, reason, "not known")


ROWS = (
    row("trunk.stl", "Sacrum", "sacral", "", "root", body=2),
    row("trunk.stl", "L1", "dorsal", "Sacrum", "column", position=1, body=1),
    row("tail.stl", "Ca1", "caudal", "Sacrum", "column", position=1),
    row("far.stl", "Ca2", "caudal", "Ca1", "column", position=2),
    row("leg_l.stl", "Leg.L", "limb", "Sacrum", "fixed", "limb joints are set by hand", side="left"),
    row("leg_r.stl", "Leg.R", "limb", "Sacrum", "fixed", "limb joints are set by hand", side="right"),
    row("label.stl", "Label", "other", "", "left out", "a label"),
)


@pytest.fixture(scope="module")
def folder(shapes, tmp_path_factory):
    """A sacrum, a vertebra before and one behind it, one far off, two legs down to the ground, a label."""
    path = tmp_path_factory.mktemp("animal")

    def write(name, surface):
        trimesh.Trimesh(surface.vertices, surface.faces, process=False).export(path / name)

    def solid_vertebra(x):  # one closed body each, so that the file splits into elements
        return shapes.make_box((0.9, 0.8, 0.6), (x, 0, 3))

    write("trunk.stl", shapes.join(solid_vertebra(1), solid_vertebra(0)))
    write("tail.stl", solid_vertebra(-1))
    write("far.stl", solid_vertebra(-9))
    for name, y in (("leg_l.stl", 0.8), ("leg_r.stl", -0.8)):
        write(name, shapes.make_box((0.3, 0.3, 2.8), (0, y, 1.4)))
    write("label.stl", shapes.make_box((0.1, 0.1, 0.1), (3, 0, 0.05)))
    return path


@pytest.fixture(scope="module")
def survey(folder):
    return survey_folder(folder, "m")


@pytest.fixture(scope="module")
def skeleton(folder, survey):
    return found_joints.articulate(ROWS, survey, folder, "made up", QUICK)


def test_one_tree_with_every_element(skeleton):
    assert skeleton.root.name == "Sacrum"
    assert {element.name for element in skeleton.elements} == {"Sacrum", "L1", "Ca1", "Ca2", "Leg.L", "Leg.R"}
    assert [(left.file, left.reason) for left in skeleton.left_out] == [("label.stl", "a label")]


def test_elements_carry_their_source_and_solid(skeleton, survey):
    element = skeleton.elements[skeleton.index("L1")]
    assert element.source.file == "trunk.stl"
    assert element.source.body == 1
    assert element.source.sha256 == survey.files[[f.file for f in survey.files].index("trunk.stl")].sha256
    assert element.solid.volume_m3 == pytest.approx(0.9 * 0.8 * 0.6, rel=1e-6)
    assert np.array_equal(element.X_WE, np.eye(4))


def test_column_joints_have_facets_frames_and_limits(skeleton):
    for child, x, sense in (("L1", 0.5, -1), ("Ca1", -0.5, 1)):
        joint = skeleton.joint_of(child)
        assert joint.kind == "column"
        assert joint.confidence == "found"
        assert joint.X_WJ[:3, 3] == pytest.approx([x, 0, 3], abs=0.02)
        assert joint.senses == (1, sense, 1)
        assert joint.settings == QUICK
        assert {(facet.kind, facet.element) for facet in joint.facets} == {("centrum", child), ("centrum", "Sacrum")}
        assert all(limit.low.angle_rad < 0 < limit.high.angle_rad for limit in joint.limits)


def test_what_does_not_meet_is_fixed_with_the_reason(skeleton):
    joint = skeleton.joint_of("Ca2")
    assert joint.kind == "fixed"
    assert joint.reason == "no facets found: set it by hand"
    assert joint.limits is None
    assert joint.X_WJ[0, 3] == pytest.approx(-5, abs=0.1)  # half-way between the two
    assert any("Ca1 to Ca2" in note for note in describe_joints(skeleton))


def test_other_rows_are_fixed_with_the_tables_reason(skeleton):
    joint = skeleton.joint_of("Leg.L")
    assert (joint.kind, joint.reason) == ("fixed", "limb joints are set by hand")


def test_a_fixed_element_follows_the_second_that_its_row_names(folder, survey):
    rows = [replace(r, also="L1") if r.element == "Leg.L" else r for r in ROWS]
    skeleton = found_joints.articulate(rows, survey, folder, "made up", QUICK)
    assert {joint.child: joint.also for joint in skeleton.joints if joint.also} == {"Leg.L": "L1"}
    bent = Pose("bent", {"L1": np.array([0.08, 0.0, 0.0])})
    turned = place_elements(skeleton, bent)[skeleton.index("Leg.L")]
    assert np.arccos((np.trace(turned[:3, :3]) - 1) / 2) == pytest.approx(0.04, abs=1e-9)
    assert "1 of those fixed follows two elements, half and half." in describe_joints(skeleton)


def test_it_stands_on_its_two_legs(skeleton):
    assert sorted(foot.name for foot in skeleton.feet) == ["left foot", "right foot"]
    left = next(foot for foot in skeleton.feet if foot.name == "left foot")
    assert left.contacts[0].points_m[:, 2].min() == pytest.approx(0)
    assert len(left.contacts[0].points_m) == 8


def test_without_legs_the_notes_say_that_nothing_stands(folder, survey):
    rows = [replace(r, attachment="left out", parent="", reason="lost") if r.series == "limb" else r for r in ROWS]
    skeleton = found_joints.articulate(rows, survey, folder, "made up", QUICK)
    assert skeleton.feet == ()
    assert any("No limb reaches the ground" in note for note in describe_joints(skeleton))


def test_the_same_input_gives_the_same_joints(folder, survey, skeleton):
    again = articulate(ROWS, survey, folder, "made up", QUICK)
    for first, second in zip(skeleton.joints, again.joints, strict=True):
        assert (first.X_WJ == second.X_WJ).all()
        if first.limits:
            assert [x.high.angle_rad for x in first.limits] == [x.high.angle_rad for x in second.limits]


def test_progress_is_told_and_can_cancel(folder, survey):
    told = []

    def stop_half_way(doing, share):
        told.append((doing, share))
        if share > 0.5:
            raise Cancelled

    with pytest.raises(Cancelled):
        articulate(ROWS, survey, folder, "made up", QUICK, stop_half_way)
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert len(told) > 5


def test_a_table_that_does_not_fit_is_refused(folder, survey):
    with pytest.raises(TableError):
        articulate((*ROWS, row("none.stl", "X", "other", "Sacrum", "fixed", "?")), survey, folder, "made up", QUICK)


def test_a_file_that_has_gone_is_refused(folder, survey, tmp_path):
    with pytest.raises(MeshFileError):
        articulate(ROWS, survey, tmp_path, "made up", QUICK)


@pytest.fixture(scope="module")
def dog(dog_folder, dog_survey):
    """All of it, the limits of its column looked for as far as usual.

    Of its limbs' joints nothing is asked but that they hold the elements together: their limits are looked for hardly
    any way, and only to the left, of which the right is the mirror image.
    """
    left = [
        replace(r, attachment="fixed", reason="as to the left") if (r.attachment, r.side) == ("limb", "right") else r
        for r in propose_table(dog_survey)
    ]
    return articulate(left, dog_survey, dog_folder, "dog", limb_search_rad=0.02)


@pytest.mark.dog
def test_the_dog_is_one_tree_on_four_feet(dog):
    assert len(dog.elements) > 220
    assert {foot.name for foot in dog.feet} == {
        "fore left foot",
        "fore right foot",
        "hind left foot",
        "hind right foot",
    }
    assert dog.root.name == "Sacrum"


def column(dog, first, last):
    """The joints of the column from C3–C4 to the last tail vertebra named."""
    at = {element.name: i for i, element in enumerate(dog.elements)}
    names = [f"C{i}" for i in range(first, 8)] + [f"T{i}" for i in range(1, 14)] + [f"L{i}" for i in range(1, 8)]
    names += [f"Ca{i}" for i in range(1, last + 1)]
    assert all(name in at for name in names)
    return [dog.joint_of(name) for name in names]


@pytest.mark.dog
def test_the_dogs_column_joints_come_from_facets(dog):
    joints = column(dog, 3, 10)
    assert len(joints) == 35  # C3–C4 … C7–T1 … L7–sacrum … Ca9–Ca10
    assert sum(joint.kind == "column" and joint.confidence == "found" for joint in joints) >= 0.95 * 35
    with_all_three = [joint for joint in joints if len(joint.facets) == 6]
    assert len(with_all_three) >= 28  # to about Ca5 the zygapophyses meet


@pytest.mark.dog
def test_the_dogs_limits_are_plausible_and_alike_on_both_sides(dog):
    joints = [joint for joint in column(dog, 3, 5) if joint.limits]
    reach = np.degrees([[[x.low.angle_rad, x.high.angle_rad] for x in joint.limits] for joint in joints])
    sagittal = reach[:, 0, 1] - reach[:, 0, 0]
    assert (sagittal > 5).all()
    assert (sagittal < 60).all()
    # the model's bones are mirror images: left and right differ by how the samples fall
    lateral, axial = np.abs(reach[:, 1].sum(axis=1)), np.abs(reach[:, 2].sum(axis=1))
    assert np.median(lateral) < 0.5
    assert np.median(axial) < 0.5
    assert max(lateral.max(), axial.max()) < 5
    assert {x.high.reason for joint in joints for x in joint.limits} >= {"bone contact", "facet overlap"}


@pytest.mark.dog
def test_the_dogs_parents_are_at_its_column_and_frames_are_right(dog):
    for joint in column(dog, 3, 10):
        x, y, z = joint.X_WJ[:3, :3].T
        headward = not joint.child.startswith("Ca")
        assert x == pytest.approx([0, 1 if headward else -1, 0], abs=0.05)
        assert z[2] < 0 or joint.child.startswith("C")  # ventral is down, but for an upright neck
        centre = dog.elements[dog.index(joint.child)].solid.centre_m
        assert y @ (centre - joint.X_WJ[:3, 3]) > 0
