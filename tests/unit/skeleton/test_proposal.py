"""Proposing a table: on a made-up animal of boxes, with and without names, and on the dog.

The made-up animal stands for bones that nobody has seen: other counts, other sizes, and names that do not help.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.duplicates import mark_duplicates
from core_calcs.mesh.records import FileRecord, Survey
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import join_pieces, make_record, survey_piece
from core_calcs.skeleton.proposal import propose_table
from core_calcs.skeleton.table import TableRow
from core_calcs.skeleton.table_check import check_table
from core_calcs.spatial.errors import TableError

Triple = tuple[float, float, float]
Piece = tuple[str, trimesh.Trimesh]


def make_block(name: str, size: Triple, at: Triple) -> Piece:
    block = trimesh.creation.box(extents=size).subdivide().subdivide()
    block.apply_translation(at)
    return name, block


def make_pair(name: str, size: Triple, at: Triple) -> list[Piece]:
    x, y, z = at
    return [make_block(f"{name}_L", size, at), make_block(f"{name}_R", size, (x, -y, z))]


def make_arc(name: str, x: float, side: int) -> Piece:
    """A rib: a square rod bent in the plane across, from the column at z = 2 down to z = 1.3."""
    angles = np.linspace(0.15, 2.4, 12)
    out = np.stack([0 * angles, side * np.sin(angles), np.cos(angles)], axis=1)
    middle = 0.4 * out + (x, 0, 1.6)
    aside = np.array([0.01, 0, 0])
    rings = np.stack([middle + aside, middle + 0.01 * out, middle - aside, middle - 0.01 * out], axis=1)
    faces = [(0, 1, 2), (0, 2, 3), (44, 46, 45), (44, 47, 46)]
    for i in range(0, 44, 4):
        for j, k in ((0, 1), (1, 2), (2, 3), (3, 0)):
            faces += [(i + j, i + 4 + j, i + 4 + k), (i + j, i + 4 + k, i + k)]
    return name, trimesh.Trimesh(rings.reshape(-1, 3), faces, process=False)


def make_animal() -> list[Piece]:
    """Length 6: 4 cervicals, 5 thoracics with ribs, 3 lumbars, sacrum, 12 caudals, skull, jaw, pelvis, limbs."""
    pieces = [
        make_block("skull", (0.6, 0.4, 0.4), (2.13, 0, 2.0)),
        make_block("lower_jaw", (0.6, 0.3, 0.1), (2.25, 0, 1.7)),
    ]
    x = 1.8
    rows = [("C", 4, 0.16), ("D", 5, 0.16), ("L", 3, 0.16), ("sacrum", 1, 0.3), ("Ca", 12, 0.12)]
    for letters, count, length in rows:
        for number in range(1, count + 1):
            name = letters if letters == "sacrum" else f"{letters}{number}"
            wide = 0.2 if letters == "sacrum" else 0.14
            pieces.append(make_block(name, (length, wide, wide), (x - length / 2, 0, 2.0)))
            if letters == "D":
                pieces += [
                    make_arc(f"rib_{number}_L", x - length / 2, 1),
                    make_arc(f"rib_{number}_R", x - length / 2, -1),
                ]
            x -= length + 0.01
    pieces += make_pair("scapula", (0.35, 0.05, 0.5), (1.05, 0.45, 1.75))
    for name, z in (("humerus", 1.25), ("radius", 0.75), ("metacarpal", 0.25)):
        pieces += make_pair(name, (0.12, 0.12, 0.48), (1.05, 0.45, z))
    pieces += make_pair("phalanx_manus", (0.12, 0.12, 0.02), (1.05, 0.45, -0.0))
    pieces.append(make_block("pelvis", (0.5, 0.6, 0.2), (-0.33, 0, 1.79)))
    for name, z in (("femur", 1.4), ("tibia", 0.85), ("metatarsal", 0.3)):
        pieces += make_pair(name, (0.14, 0.14, 0.5), (-0.4, 0.35, z))
    return pieces


def make_survey(pieces: Sequence[tuple[str, Sequence[trimesh.Trimesh]]]) -> Survey:
    """Files of one or several bodies, surveyed without a disk."""
    files = []
    for name, meshes in sorted(pieces, key=lambda piece: piece[0]):
        surfaces = [Surface(np.array(mesh.vertices, float), np.array(mesh.faces, np.int64)) for mesh in meshes]
        found = sorted((survey_piece(surface) for surface in surfaces), key=lambda one: -one[1].centre_m[0])
        bodies = tuple(make_record(i, *piece) for i, piece in enumerate(found, start=1))
        whole = make_record(None, *join_pieces(found))
        files.append(FileRecord(f"{name}.stl", name, "m", "read", "", whole, bodies))
    return Survey("m", mark_duplicates(tuple(files)))


def by_element(rows: Sequence[TableRow]) -> dict[str, TableRow]:
    return {row.element: row for row in rows}


@pytest.fixture(scope="module")
def animal() -> list[Piece]:
    return make_animal()


def test_named_animal(animal: list[Piece]) -> None:
    survey = make_survey([(name, [mesh]) for name, mesh in animal])
    rows = propose_table(survey)
    check_table(rows, survey)
    found = by_element(rows)
    assert Counter(row.series for row in rows) == {
        "limb": 14, "caudal": 12, "ribs": 10, "dorsal": 8, "cervical": 4, "girdle": 3, "skull": 2, "sacral": 1,
    }  # fmt: skip
    chain, name = [], "C1"
    while name:
        chain.append(name)
        name = found[name].parent
    assert chain == ["C1", "C2", "C3", "C4", *(f"T{n}" for n in range(1, 6)), "L1", "L2", "L3", "Sacrum"]
    assert all(found[name].attachment == "column" for name in chain[:-1])
    assert [found[f"L{n}"].position for n in (1, 2, 3)] == [6, 7, 8]
    assert found["Ca1"].parent == "Sacrum"
    assert found["Ca12"].parent == "Ca11"
    parents = {name: found[name].parent for name in ("Skull", "Lower_jaw", "Rib_3.L", "Rib_3.R", "Pelvis")}
    assert parents == {"Skull": "C1", "Lower_jaw": "Skull", "Rib_3.L": "T3", "Rib_3.R": "T3", "Pelvis": "Sacrum"}
    for side in "LR":
        limb = ["Phalanx_manus", "Metacarpal", "Radius", "Humerus", "Scapula"]
        assert [found[f"{bone}.{side}"].parent for bone in limb[:-1]] == [f"{bone}.{side}" for bone in limb[1:]]
        assert found[f"Scapula.{side}"].series == "girdle"
        assert [found[f"{bone}.{side}"].parent for bone in ("Metatarsal", "Tibia")] == [
            f"Tibia.{side}",
            f"Femur.{side}",
        ]
        assert found[f"Femur.{side}"].parent == "Pelvis"
    assert all(row.reason for row in rows if row.attachment == "fixed")


def test_ribs_beside_one_vertebra_and_what_is_neither_rib_nor_chevron_follow_one(animal: list[Piece]) -> None:
    """Every rib starts beside the middle of its vertebra; pelvis, skull and jaw lie against several elements."""
    rows = propose_table(make_survey([(name, [mesh]) for name, mesh in animal]))
    assert sum(row.series == "ribs" for row in rows) == 10
    assert {row.also for row in rows} == {""}


def move_forwards(animal: list[Piece], names: Sequence[str], by: float = 0.085) -> list[Piece]:
    """Some brought forwards: a rib to the gap before its vertebra, half its length of 0.16 and of the gap of 0.01."""
    return [(name, mesh.copy().apply_translation((by, 0, 0)) if name in names else mesh) for name, mesh in animal]


def test_ribs_and_chevrons_between_two_vertebrae_follow_both(animal: list[Piece]) -> None:
    """Ribs 2 to 5 in the gaps before their vertebrae; a chevron, and a box that is named a tooth, under gaps of the
    tail: a space of 0.01 each way."""
    pieces = move_forwards(animal, [f"rib_{n}_{side}" for n in range(2, 6) for side in "LR"])
    at = {name: mesh.bounds for name, mesh in animal}
    gap = {n: (at[f"Ca{n}"][0, 0] + at[f"Ca{n + 1}"][1, 0]) / 2 for n in (3, 5)}
    pieces += [make_block("chevron_1", (0.03, 0.02, 0.2), (gap[3], 0, 1.82))]
    pieces += [make_block("chevron_2", (0.03, 0.02, 0.2), (gap[3] - 0.05, 0, 1.82))]
    pieces += [make_block("tooth_1", (0.03, 0.02, 0.2), (gap[5], 0, 1.82))]
    survey = make_survey([(name, [mesh]) for name, mesh in pieces])
    rows = propose_table(survey)
    check_table(rows, survey)
    found = by_element(rows)
    wanted = {f"Rib_{n}.{side}": {f"T{n}", f"T{n - 1}"} for n in range(2, 6) for side in "LR"}
    wanted["Chevron_1"] = {"Ca3", "Ca4"}
    assert {row.element: {row.parent, row.also} for row in rows if row.also} == wanted
    assert all(row.attachment == "fixed" for row in rows if row.also)
    told = re.search(r"against two, ([0-9.]+) mm from (\w+) and ([0-9.]+) mm from (\w+)$", found["Rib_3.L"].reason)
    assert told is not None
    assert {told[2], told[4]} == {"T3", "T2"}
    assert abs(float(told[1]) - float(told[3])) < 10


def test_a_pair_that_disagrees_follows_its_parent_alone(animal: list[Piece]) -> None:
    pieces = move_forwards(animal, ["rib_3_L", "rib_4_L", "rib_4_R"])
    pieces = move_forwards(pieces, ["rib_3_R"], 0.04)  # its image still, and beside its own vertebra alone
    found = propose_table(make_survey([(name, [mesh]) for name, mesh in pieces]))
    assert {row.element for row in found if row.also} == {"Rib_4.L", "Rib_4.R"}


@pytest.mark.parametrize(("gap", "parent"), [(0.012, "Tibia.L"), (0.06, "Fibula.L")])
def test_the_ankle_hangs_on_the_tibia_where_the_fibula_is_hardly_nearer(
    animal: list[Piece], gap: float, parent: str
) -> None:
    """The tibia ends at z = .6; the fibula beside it reaches down to .01 above the talus, whose size is .1."""
    top = 0.6 - gap
    ankle = [
        *make_pair("fibula", (0.03, 0.03, 0.5), (-0.31, 0.35, top + 0.01 + 0.25)),
        *make_pair("talus", (0.14, 0.1, 0.07), (-0.38, 0.35, top - 0.035)),
    ]
    kept = [piece for piece in animal if "metatarsal" not in piece[0]]
    rows = by_element(propose_table(make_survey([(name, [mesh]) for name, mesh in [*kept, *ankle]])))
    assert rows["Talus.L"].parent == parent
    assert rows["Talus.L"].attachment == "limb"
    assert rows["Talus.R"].parent == parent.replace(".L", ".R")


def hang_toes(animal: list[Piece], pieces: list[Piece]) -> dict[str, TableRow]:
    """The animal with other bones below its tibiae, which end at z = .6."""
    kept = [piece for piece in animal if "metatarsal" not in piece[0]]
    survey = make_survey([(name, [mesh]) for name, mesh in [*kept, *pieces]])
    rows = propose_table(survey)
    check_table(rows, survey)
    return by_element(rows)


def test_toes_of_one_piece_hang_side_by_side_on_a_fused_metatarsus(animal: list[Piece]) -> None:
    """Their ends lie nearer to each other than the ends of any of them to the metatarsus' own."""
    pieces = make_pair("metatarsus", (0.3, 0.3, 0.4), (-0.4, 0.35, 0.39))
    for number, y in ((2, 0.26), (3, 0.35), (4, 0.44)):
        pieces += make_pair(f"toe_{number}", (0.4, 0.07, 0.06), (-0.25, y, 0.15))
    rows = hang_toes(animal, pieces)
    for side in "LR":
        for number in (2, 3, 4):
            toe = rows[f"Toe_{number}.{side}"]
            assert (toe.parent, toe.attachment, toe.series) == (f"Metatarsus.{side}", "limb", "limb")


@pytest.mark.parametrize("word", ["toe", "zehe", "dedo", "digit"])
def test_toes_of_one_piece_hang_each_on_its_own_metatarsal(animal: list[Piece], word: str) -> None:
    pieces = []
    for number, y in ((1, 0.26), (2, 0.35), (3, 0.44)):
        pieces += make_pair(f"metatarsal_{number}", (0.08, 0.08, 0.4), (-0.4, y, 0.39))
        pieces += make_pair(f"{word}_{number}", (0.4, 0.07, 0.06), (-0.25, y, 0.15))
    rows = hang_toes(animal, pieces)
    for side in "LR":
        for number in (1, 2, 3):
            toe = rows[f"{word.capitalize()}_{number}.{side}"]
            assert (toe.parent, toe.attachment, toe.series) == (f"Metatarsal_{number}.{side}", "limb", "limb")
            assert rows[f"Metatarsal_{number}.{side}"].parent == f"Tibia.{side}"


def test_pieces_of_a_toe_hang_end_to_end(animal: list[Piece]) -> None:
    """Named after the toe and their place in it, the claw by its own word."""
    pieces = []
    for digit, y in ((2, 0.28), (3, 0.42)):
        pieces += make_pair(f"metatarsal_{digit}", (0.08, 0.08, 0.4), (-0.4, y, 0.39))
        for place, x in ((1, -0.25), (2, 0.0)):
            pieces += make_pair(f"toe_{digit}_{place}", (0.24, 0.04, 0.04), (x, y, 0.16))
        pieces += make_pair(f"claw_{digit}", (0.14, 0.03, 0.03), (0.2, y, 0.16))
    rows = hang_toes(animal, pieces)
    for side in "LR":
        for digit in (2, 3):
            own = [
                f"Claw_{digit}.{side}",
                f"Toe_{digit}_2.{side}",
                f"Toe_{digit}_1.{side}",
                f"Metatarsal_{digit}.{side}",
            ]
            assert [rows[name].parent for name in own[:-1]] == own[1:]
            assert {(rows[name].attachment, rows[name].reason) for name in own} == {("limb", "")}


def test_toes_without_metatarsals_hang_on_what_is_there(animal: list[Piece]) -> None:
    """Though the fore limbs have metacarpals."""
    pieces = [
        piece
        for number, y in ((1, 0.3), (2, 0.4))
        for piece in make_pair(f"toe_{number}", (0.3, 0.07, 0.06), (-0.3, y, 0.55))
    ]
    rows = hang_toes(animal, pieces)
    assert {rows[f"Toe_{number}.L"].parent for number in (1, 2)} == {"Tibia.L"}


def test_anonymous_animal(animal: list[Piece]) -> None:
    """Catalogue numbers for names: the column, ribs, skull and pelvis are found by place, the rest hangs on it."""
    order = random.Random(4).sample(range(len(animal)), len(animal))
    truth = {f"scan_{number:04d}.stl": animal[i][0] for number, i in enumerate(order)}
    survey = make_survey([(f"scan_{number:04d}", [animal[i][1]]) for number, i in enumerate(order)])
    rows = propose_table(survey)
    check_table(rows, survey)
    files = {row.element: row.file for row in rows}
    found = {truth[row.file]: (row.series, row.position, truth.get(files.get(row.parent, ""))) for row in rows}
    assert found["sacrum"] == ("sacral", 1, None)
    assert found["C1"] == ("cervical", 1, "C2")
    assert found["C4"] == ("cervical", 4, "D1")
    assert found["D5"] == ("dorsal", 5, "L1")
    assert found["L3"] == ("dorsal", 8, "sacrum")
    assert found["Ca12"] == ("caudal", 12, "Ca11")
    assert found["rib_2_L"] == ("ribs", 2, "D2")
    assert found["skull"] == ("skull", None, "C1")
    assert found["pelvis"][0] == "girdle"
    assert found["femur_L"][0] == "other"


def test_trunk_in_one_file(animal: list[Piece]) -> None:
    """Thoracics and ribs come as one file without a telling name: taken apart and found between C4 and L1."""
    trunk = [mesh for name, mesh in animal if name.startswith(("D", "rib"))]
    rest = [(name, [mesh]) for name, mesh in animal if not name.startswith(("D", "rib"))]
    survey = make_survey([*rest, ("trunk", trunk)])
    rows = propose_table(survey)
    check_table(rows, survey)
    found = by_element(rows)
    assert [found[f"T{n}"].parent for n in range(1, 6)] == ["T2", "T3", "T4", "T5", "L1"]
    assert all(found[f"Rib_{n}.{side}"].parent == f"T{n}" for n in range(1, 6) for side in "LR")
    assert found["C4"].parent == "T1"
    assert {row.body for row in rows if row.file == "trunk.stl"} == set(range(1, 16))


def test_skull_with_loose_teeth_stays_one_element(animal: list[Piece]) -> None:
    teeth = [make_block("", (0.03, 0.03, 0.06), (2.0 + 0.05 * i, 0.1, 1.76))[1] for i in range(8)]
    pieces = [(name, [mesh, *teeth] if name == "skull" else [mesh]) for name, mesh in animal]
    rows = propose_table(make_survey(pieces))
    assert [row.body for row in rows if row.file == "skull.stl"] == [None]
    anonymous = [("x9" if name == "skull" else name, meshes) for name, meshes in pieces]
    assert [row.body for row in propose_table(make_survey(anonymous)) if row.file == "x9.stl"] == [None]


def test_a_missing_vertebra_makes_a_fixed_joint_with_its_reason(animal: list[Piece]) -> None:
    survey = make_survey([(name, [mesh]) for name, mesh in animal if name != "C2"])
    found = by_element(propose_table(survey))
    assert (found["C1"].parent, found["C1"].attachment) == ("C3", "fixed")
    assert "1 vertebra is missing" in found["C1"].reason
    assert found["C3"].attachment == "column"


def test_duplicates_soft_parts_and_unreadable_files_are_left_out(animal: list[Piece]) -> None:
    pieces = [(name, [mesh]) for name, mesh in animal]
    pieces += [("zz_copy_of_skull", [animal[0][1]]), make_soft("eye_L"), make_soft("xiphoid_cartilage")]
    survey = make_survey(pieces)
    broken = FileRecord("broken.stl", "", "m", "empty", "broken.stl: the file is empty.", None, ())
    survey = replace(survey, files=(broken, *survey.files))
    rows = propose_table(survey)
    check_table(rows, survey)
    left_out = {row.file: row.reason for row in rows if row.attachment == "left out"}
    assert left_out.keys() == {"broken.stl", "eye_L.stl", "xiphoid_cartilage.stl", "zz_copy_of_skull.stl"}
    assert left_out["zz_copy_of_skull.stl"] == "the same geometry as skull.stl"
    assert left_out["broken.stl"] == "broken.stl: the file is empty."


def make_soft(name: str) -> tuple[str, list[trimesh.Trimesh]]:
    return name, [make_block(name, (0.1, 0.11, 0.12), (2.3, 0.3 if name == "eye_L" else 0.0, 1.2))[1]]


def test_the_side_is_judged_by_place_where_the_name_is_wrong(animal: list[Piece]) -> None:
    swap = {"femur_L": "femur_R", "femur_R": "femur_L"}
    survey = make_survey([(swap.get(name, name), [mesh]) for name, mesh in animal])
    found = {row.file: row for row in propose_table(survey)}
    assert found["femur_R.stl"].side == "left"
    assert found["femur_R.stl"].element == "Femur.L"
    assert found["tibia_L.stl"].parent == "Femur.L"


@pytest.mark.parametrize("count", [1, 2, 7])
def test_anything_at_all_makes_one_tree(count: int, rng: np.random.Generator) -> None:
    pieces = [(f"{i:x}", [make_block("", (1, 1, 1), tuple(rng.uniform(-9, 9, 3)))[1]]) for i in range(count)]
    survey = make_survey(pieces)
    rows = propose_table(survey)
    check_table(rows, survey)
    assert sum(row.attachment == "root" for row in rows) == 1


def test_long_and_awkward_names_are_made_fit(animal: list[Piece]) -> None:
    pieces = [("ü" * 80, [animal[0][1]]), ("ü" * 81, [animal[1][1]]), ("femur: left?", [animal[2][1]])]
    survey = make_survey(pieces)
    rows = propose_table(survey)
    check_table(rows, survey)


def test_nothing_usable() -> None:
    broken = FileRecord("broken.stl", "", "m", "empty", "broken.stl: the file is empty.", None, ())
    with pytest.raises(
        TableError, match=r"no file in it can be an element: broken\.stl: the file is empty\. Choose the folder"
    ):
        propose_table(Survey("m", (broken,)))


@pytest.mark.dog
def test_dog(dog_survey: Survey) -> None:
    """232 elements in one tree; counts of a dog's bones: common practice, no source."""
    rows = propose_table(dog_survey)
    check_table(rows, dog_survey)
    kept = [row for row in rows if row.attachment != "left out"]
    assert len(kept) == 232
    counts = Counter(row.series for row in kept)
    assert (counts["cervical"], counts["dorsal"], counts["sacral"], counts["caudal"], counts["ribs"]) == (
        7,
        20,
        1,
        21,
        26,
    )
    assert Counter(row.reason.split(":")[0] for row in rows if row.attachment == "left out") == {
        "a bone of the tongue": 9,
        "a soft part": 2,
        "cartilage": 1,
        "the same geometry as BONEXiphoid_cartilage.stl": 1,
    }
    found = by_element(kept)
    # A dog's ribs 2 to 10 meet two vertebrae, the last three their own alone: common practice, no source.
    wanted = {f"Rib_{n}.{side}": (f"T{n}", f"T{n - 1}") for n in range(2, 11) for side in "LR"}
    assert {row.element: (row.parent, row.also) for row in rows if row.also} == wanted
    for side in "LR":
        assert found[f"Rib_13.{side}"].parent == "T13"
        assert found[f"Scapula.{side}"].parent.startswith("T")
        for digit in ("II", "III", "IV"):
            chain = [f"Phalanx_distalis_digiti_{digit}.{side}"]
            while not chain[-1].startswith("Metacarpale"):
                chain.append(found[chain[-1]].parent)
            assert chain[1] == f"Phalanx_media_digiti_{digit}.{side}"
            assert chain[-1] == f"Metacarpale_{digit}.{side}"
            assert len(chain) == 4
        for toe in range(1, 5):
            assert found[f"Phalanges_B_3_{toe}.{side}"].parent == f"Phalanges_B_2_{toe}.{side}"
            assert found[f"Phalanges_B_2_{toe}.{side}"].parent == f"Phalanges_B_{toe}.{side}"
            assert found[f"Phalanges_B_{toe}.{side}"].parent == f"Metatarsi_{toe}.{side}"
            assert found[f"Metatarsi_{toe}.{side}"].parent.startswith("Tarsus")
        # Named as a fifth metacarpal, by place the first bone of the first digit.
        small = found[f"Phalanx_distalis_digiti_I.{side}"].parent
        assert found[small].parent == f"Metacarpale_I.{side}"


@pytest.mark.dog
def test_dog_without_names(dog_survey: Survey) -> None:
    """The same bones under catalogue numbers: every vertebra and rib is found again."""
    named = {(row.file, row.body): row for row in propose_table(dog_survey)}
    order = random.Random(1).sample([file.file for file in dog_survey.files], len(dog_survey.files))
    number = {file: f"scan_{i:04d}.stl" for i, file in enumerate(order)}
    files = tuple(
        sorted((replace(file, file=number[file.file]) for file in dog_survey.files), key=lambda file: file.file)
    )
    rows = propose_table(Survey("m", files))
    true_file = {anonymous: file for file, anonymous in number.items()}
    for row in rows:
        true = named[true_file[row.file], row.body]
        if true.series in ("cervical", "dorsal", "sacral", "caudal", "ribs"):
            assert (row.series, row.position, row.side) == (true.series, true.position, true.side)
