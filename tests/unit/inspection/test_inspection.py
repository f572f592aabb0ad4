"""What holding elements against each other shows: one thing wrong at a time in a made-up animal, and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core_calcs.studies.problems import list_findings

BACK, ACROSS, AHEAD = (0, 0, 1), (0, 1, 0), (1, 0, 0)


def turn(axis, angle=np.pi):
    """About the middle of the box."""
    R = Rotation.from_rotvec(np.array(axis) * angle).as_matrix()

    return lambda vertices: (vertices - middle_of(vertices)) @ R.T + middle_of(vertices)


def middle_of(vertices):
    """Of the box."""
    return (vertices.min(axis=0) + vertices.max(axis=0)) / 2


def shift(x, y, z):
    return lambda vertices: vertices + np.array([x, y, z])


def grow(factor):
    return lambda vertices: (vertices - vertices.mean(axis=0)) * factor + vertices.mean(axis=0)


def test_a_sound_animal_shows_nothing(animal):
    inspection = animal.inspect()
    assert inspection.findings == ()
    assert (inspection.laid_out, inspection.pairs, inspection.mirrored) == (True, 3, 0)


@pytest.mark.parametrize("bend", [0.04, 0.08])
def test_a_bent_back_shows_nothing(animal, bend):
    """Each vertebra turned on from the one before, sideways and up: a curled tail."""
    X = np.eye(4)
    for n in range(1, 11):
        place = animal.vertices[f"V{n}"] - (-0.06 * n, 0, 1)
        R = Rotation.from_rotvec((0, bend * n, bend * n)).as_matrix()
        animal.vertices[f"V{n}"] = place @ R.T + X[:3, 3] + (0, 0, 1)
        X[:3, 3] -= R[:, 0] * 0.06
    for name in list(animal.vertices):
        if not name.startswith("V"):
            animal.drop(name)
    assert animal.find() == []


@pytest.mark.parametrize(
    ("axis", "words"),
    [(BACK, "stand end for end:"), (AHEAD, "stand upside down:"), (ACROSS, "end for end and upside down")],
)
@pytest.mark.parametrize("name", ["V2", "V6"])
def test_a_vertebra_the_wrong_way_round(animal, axis, words, name):
    animal.change(name, turn(axis))
    finding = animal.the_one()
    assert (finding.kind, finding.element) == ("orientation", name)
    assert words in finding.what
    assert "neighbours in the row" in finding.what
    assert finding.remedy


def test_neighbours_in_each_others_place(animal):
    animal.swap("V7", "V8")
    finding = animal.the_one()
    assert (finding.kind, finding.element, finding.others) == ("order", "V7", ("V8",))


@pytest.mark.parametrize("name", ["V1", "V6", "V10", "tibia.L", "foot.R"])
def test_an_element_away_from_its_place(animal, name):
    animal.change(name, shift(0.2, 0.7, 0.4))
    assert animal.find() == [("place", name)]


def test_a_leg_away_as_a_whole_is_told_once(animal):
    for name in ("tibia.L", "foot.L"):
        animal.change(name, shift(0.0, 0.5, 0.0))
    finding = animal.the_one()
    assert (finding.kind, finding.element) == ("place", "tibia.L")
    assert "with all that hangs on it" in finding.what
    assert "on the other side it is" in finding.what


def test_room_for_a_lost_vertebra(animal):
    """V7 is lost: with its number free nothing is said of the gap; with the others numbered on it is."""
    animal.drop("V7")
    animal.set("V8", parent="V6")
    assert animal.find() == []
    for n in (8, 9, 10):
        animal.set(f"V{n}", position=n - 1)
    finding = animal.the_one()
    assert (finding.kind, finding.element, finding.others) == ("gap", "V8", ("V6",))
    assert "room for 1 more" in finding.what


@pytest.mark.parametrize(("factor", "told"), [(1.25, 0.8), (0.8, 1.25)])
def test_a_scaled_bone_of_a_pair(animal, factor, told):
    animal.change("tibia.R", grow(factor))
    finding = animal.the_one()
    assert (finding.kind, finding.element, finding.others) == ("size", "tibia.L", ("tibia.R",))
    assert f"{told} times as large" in finding.what.replace("0.801", "0.8").replace("0.799", "0.8").replace(
        "1.24", "1.25"
    )


@pytest.mark.parametrize("name", ["V4", "V6"])
def test_a_scaled_vertebra(animal, name):
    animal.change(name, grow(1.3))
    finding = animal.the_one()
    assert (finding.kind, finding.element) == ("size", name)
    assert "1.3 times as large" in finding.what


@pytest.mark.parametrize("name", ["V2", "V10", "femur.L", "foot.R"])
@pytest.mark.parametrize(("factor", "unit"), [(1 / 25.4, "in"), (0.001, "m"), (0.1, "cm")])
def test_another_unit(animal, name, factor, unit):
    animal.change(name, lambda vertices: vertices * factor)
    finding = animal.the_one()
    assert (finding.kind, finding.element) == ("unit", name)
    assert finding.remedy.endswith(f"set its unit to {unit} in the table")
    assert "stands at its place" in finding.what


def test_sides_exchanged(animal):
    animal.swap("tibia.L", "tibia.R")
    finding = animal.the_one()
    assert (finding.kind, finding.element, finding.others) == ("side", "tibia.L", ("tibia.R",))
    assert "to the right of the mid-plane" in finding.what


def test_files_named_for_the_other_side(animal):
    """As in a proposed table, whose sides go by place."""
    for ending, other in ((".L", ".R"), (".R", ".L")):
        animal.vertices[f"shin{ending}"] = animal.vertices[f"tibia{other}"]
        animal.set(f"tibia{other}", file=f"shin{ending}.stl")
        animal.vertices.pop(f"tibia{other}")
    found = animal.inspect().findings
    assert [(finding.kind, finding.element) for finding in found] == [("side", "tibia.L"), ("side", "tibia.R")]
    assert "shin.R.stl is named for the right side, the table says left" in found[0].what


def test_one_bone_on_both_sides(animal):
    left, right = animal.vertices["tibia.L"], animal.vertices["tibia.R"]
    animal.vertices["tibia.R"] = left + middle_of(right) - middle_of(left)
    finding = animal.the_one()
    assert (finding.kind, finding.element) == ("side", "tibia.L")
    assert "the same surface as its partner tibia.R moved across" in finding.what


def test_a_bone_of_the_other_side_though_not_the_same_scan(animal):
    """Another animal's left tibia as the right one: told by its surface alone."""
    left = animal.vertices["tibia.L"] * (1.02, 1.01, 1.0) + (0, -0.06, 0)
    animal.vertices["tibia.R"] = left
    assert ("side", "tibia.L") in animal.find()


def test_a_pair_exchanged_without_turning_it(animal):
    """Shins aslant: the left one stands where the right one belongs and does not reach the foot."""
    for ending, sense in ((".L", 1), (".R", -1)):
        top = 0.67

        def lean(vertices, sense=sense, top=top):
            return vertices + np.outer(top - vertices[:, 2], (0, 0.5 * sense, 0))

        animal.change(f"tibia{ending}", lean)
        animal.change(f"foot{ending}", shift(0, 0.5 * 0.24 * sense, 0))
    assert animal.find() == []
    left, right = animal.vertices["tibia.L"], animal.vertices["tibia.R"]
    away = middle_of(right) - middle_of(left)
    animal.vertices["tibia.L"], animal.vertices["tibia.R"] = right - away, left + away
    finding = animal.the_one()
    assert (finding.kind, finding.element, finding.others) == ("side", "tibia.L", ("tibia.R",))
    assert "fit better in each other's place" in finding.what


def test_left_and_right_confused_throughout_is_told_once(animal):
    for name in animal.vertices:
        animal.change(name, lambda vertices: vertices * (1, -1, 1))
    assert len(animal.inspect().findings) == 1 or len(animal.inspect().findings) == 3
    assert {finding.kind for finding in animal.inspect().findings} == {"side"}


def test_a_walking_animal_shows_nothing(animal):
    """One leg swung forwards, the other backwards: what pairs have in common is not their place."""
    for ending, angle in ((".L", 0.5), (".R", -0.5)):
        R = Rotation.from_rotvec((0, angle, 0)).as_matrix()
        hip = np.array([-0.3, 0, 0.97])
        for name in ("femur", "tibia", "foot"):
            animal.change(name + ending, lambda vertices, R=R, hip=hip: (vertices - hip) @ R.T + hip)
    assert animal.find() == []


def test_scans_that_do_not_stand_as_a_skeleton_are_not_judged_by_place(animal):
    """Each in the middle of its scanner: only sizes and origins are compared."""
    for name in animal.vertices:
        animal.change(name, lambda vertices: vertices - vertices.mean(axis=0))
    for n, name in enumerate(animal.vertices):
        animal.change(name, shift(0, 0, 2.0 * n))
    animal.change("tibia.R", grow(1.25))
    inspection = animal.inspect()
    assert not inspection.laid_out
    assert [finding.kind for finding in inspection.findings] == ["size"]


def test_where_scans_do_not_stand_as_a_skeleton_none_is_said_to_be_in_a_longer_unit(animal):
    """A thousand times as long it would reach to all others, wherever they are."""
    for n, name in enumerate(animal.vertices):
        away = (0, 0, 0) if name == "tibia.L" else (0, 0, 3 + 2.0 * n)
        animal.change(name, lambda vertices, away=away: vertices - vertices.mean(axis=0) + away)
    animal.drop("tibia.R")
    inspection = animal.inspect()
    assert not inspection.laid_out
    assert [finding.kind for finding in inspection.findings if finding.kind == "unit"] == []


@pytest.mark.parametrize(("factor", "told"), [(1000.0, True), (0.001, True), (1.0, False)])
def test_a_whole_skeleton_in_another_unit_is_told(animal, factor, told):
    for name in animal.vertices:
        animal.change(name, lambda vertices: vertices * factor)
    inspection = animal.inspect()
    assert inspection.findings == ()
    problems = list_findings(inspection, ())
    assert [(problem.kind, problem.where) for problem in problems] == [("unit", "the elements")] * told
    assert all("which no bone does" in problem.what for problem in problems)


MIRRORED = np.array([1.0, -1.0, 1.0])


def mirror_right(animal, name="femur"):
    animal.vertices[f"{name}.R"] = (animal.vertices[f"{name}.L"] * MIRRORED) @ np.eye(3)


@pytest.mark.parametrize(
    ("origins", "told"),
    [
        (("scanned", "scanned"), ["origin"]),
        (("scanned", "mirrored"), []),
        (("mirrored", "mirrored"), ["origin"]),
        (("not known", "not known"), []),
        (("scanned", "not known"), []),
        (("sculpted", "sculpted"), []),
    ],
)
def test_a_mirror_image(animal, origins, told):
    mirror_right(animal)
    animal.set("femur.L", origin=origins[0])
    animal.set("femur.R", origin=origins[1])
    inspection = animal.inspect()
    assert [finding.kind for finding in inspection.findings] == told
    assert inspection.mirrored == 1


def test_said_to_be_mirrored_but_is_another_bone(animal):
    animal.set("femur.R", origin="mirrored")
    animal.change("femur.R", lambda vertices: vertices * (1.06, 1, 1) + (0.018, 0, 0))
    finding = animal.the_one()
    assert (finding.kind, finding.element) == ("origin", "femur.R")
    assert "is not its mirror image" in finding.what


def test_a_crushed_bone_is_told_unless_its_origin_says_so(animal):
    animal.change("femur.R", lambda vertices: (vertices - vertices.mean(axis=0)) * (0.6, 1, 1) + vertices.mean(axis=0))
    finding = animal.the_one()
    assert (finding.kind, finding.others) == ("shape", ("femur.R",))
    animal.set("femur.R", origin="deformed")
    assert animal.find() == []


def test_loose_pieces_beside_a_bone_do_not_make_it_another(animal):
    animal.extra["femur.R"] = [animal.vertices["femur.R"] * 0.2 + (0.2, -0.4, 0.3)]
    assert animal.find() == []


def test_what_is_left_out_is_not_judged(animal):
    animal.change("foot.L", shift(0, 3, 0))
    animal.set("foot.L", attachment="left out", parent="", reason="lost")
    assert animal.find() == []


def test_a_table_without_links_or_pairs(animal):
    for name in list(animal.rows):
        if name != "V5":
            animal.drop(name)
    inspection = animal.inspect()
    assert (inspection.findings, inspection.laid_out, inspection.pairs) == ((), True, 0)
