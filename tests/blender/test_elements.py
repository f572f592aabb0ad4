"""The element table as a list in the scene: filled, edited, written; nobody's change is lost unseen."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest
from animal import make_box, make_ellipsoid, write_animal, write_stl
from driving import Drive
from scenes import Scene

WORDS = {"series": "SERIES", "side": "SIDES", "attachment": "ATTACHMENTS", "origin": "ORIGINS"}


@pytest.fixture
def surveyed(empty_scene: None, tmp_path: Path) -> tuple[Path, Path]:
    """The made-up animal's own copy, surveyed with its table."""
    folder, table = tmp_path / "scans", tmp_path / "elements.csv"
    rows = write_animal(folder)
    table.write_text("\n".join(rows) + "\n", "utf-8")
    assert survey(folder, table) == {"FINISHED"}
    return folder, table


def survey(folder: Path, table: Path) -> set[str]:
    return bpy.ops.counterpoise.survey_folder(folder=str(folder), unit="mm", table_path=str(table))


def settings():
    return bpy.context.scene.counterpoise


def element(name: str):
    return settings().elements[settings().elements.find(name)]


def problems() -> list[str]:
    return [problem.name for problem in settings().problems]


def write(table: Path, **given: object) -> set[str]:
    return bpy.ops.counterpoise.write_table(table_path=str(table), **given)


def test_words_are_those_of_the_core(part) -> None:
    words, lists = part("core_calcs.skeleton.table").WORDS, part("properties.elements")
    for column, name in WORDS.items():
        assert {item[0] for item in getattr(lists, name)} == set(words[column])
    assert set(part("properties.palette").BONE_COLOURS) == set(words["series"])


def test_the_list_is_the_table(surveyed, part) -> None:
    rows = part("core_calcs.skeleton.table").read_table(surveyed[1])
    assert part("bridge.element_list").list_rows(settings()) == rows
    assert {row.mesh for row in settings().elements} == {"closed"}
    assert not settings().table_edited
    assert problems() == []


def test_a_lost_partner_is_told(surveyed) -> None:
    element("leg V2 left").name = "leg V2.L"
    write(surveyed[1])
    lost = [f"{name}: without a partner on the other side" for name in ("leg V2.L", "leg V2 right")]
    assert problems() == lost
    element("leg V2 right").name = "leg V2.R"
    write(surveyed[1])
    assert problems() == []


def test_an_edit_goes_into_the_file_and_nothing_else_does(surveyed, part) -> None:
    table = surveyed[1]
    before = table.read_text("utf-8").splitlines()
    element("V9").position = 7
    assert settings().table_edited
    assert table.read_text("utf-8").splitlines() == before
    assert write(table) == {"FINISHED"}
    assert not settings().table_edited
    after = table.read_text("utf-8").splitlines()
    assert [line for line in after if line not in before] == [
        next(b for b in before if b.startswith("V9")).replace("V9,caudal,4", "V9,caudal,7")
    ]
    assert "caudal: no element at position 4–6" in problems()
    assert settings().problems[0].element == "V8"
    assert element("V8").problem == "caudal: no element at position 4–6"


def test_a_renamed_element_keeps_what_hangs_on_it(surveyed, part) -> None:
    element("V2").name = "Neck"
    assert element("V1").parent == "Neck"
    assert element("leg V2 left").parent == "Neck"
    assert write(surveyed[1]) == {"FINISHED"}
    rows = {row.element: row for row in part("core_calcs.skeleton.table").read_table(surveyed[1])}
    assert rows["V1"].parent == "Neck"
    assert "V2" not in rows


def test_a_second_element_to_follow_is_renamed_written_and_read(surveyed, part) -> None:
    element("V1").also = "V3"
    assert settings().table_edited
    element("V3").name = "Back"
    assert (element("V1").also, element("V2").parent) == ("Back", "Back")
    assert write(surveyed[1]) == {"FINISHED"}
    rows = {row.element: row for row in part("core_calcs.skeleton.table").read_table(surveyed[1])}
    assert {name: row.also for name, row in rows.items() if row.also} == {"V1": "Back"}
    assert element("V1").also == "Back"
    element("V1").attachment = "column"  # the field is not shown then, and its word not written
    assert write(surveyed[1]) == {"FINISHED"}
    assert element("V1").also == ""


@pytest.mark.parametrize(
    ("name", "change", "message"),
    [
        ("V1", {"also": "V2"}, "are both 'V2'"),
        ("V1", {"also": "V4"}, "no neighbour of 'V2'"),
        ("V3", {"parent": "V33"}, "no element 'V33'"),
        ("V3", {"parent": "V1"}, "circle"),
        ("V3", {"attachment": "root", "parent": ""}, "is the root already"),
        ("V3", {"reason": ""}, "without a reason"),
        ("V3", {"name": "V4"}, "already in row"),
    ],
)
def test_a_list_that_contradicts_itself_is_not_written(
    surveyed, name: str, change: dict[str, str], message: str
) -> None:
    table = surveyed[1]
    before = table.read_bytes()
    target = element(name)
    for key, value in change.items():
        setattr(target, key, value)
    settings().element_index = 12
    with pytest.raises(RuntimeError, match=message) as caught:
        write(table)
    assert table.read_bytes() == before
    assert settings().table_edited
    shown = settings().elements[settings().element_index]
    assert shown.name in ("V1", "V2", "V3", "V4", "V5")
    assert str(caught.value).startswith(f"Error: {shown.name}: ")


def test_a_table_changed_outside_is_not_overwritten_unseen(surveyed) -> None:
    table = surveyed[1]
    outside = table.read_text("utf-8").replace("a post", "an oaken post")
    table.write_text(outside, "utf-8")
    element("V9").position = 7
    with pytest.raises(RuntimeError, match="not what the list was read from"):
        write(table)
    assert table.read_text("utf-8") == outside
    assert element("V9").position == 7
    assert write(table, overwrite=True) == {"FINISHED"}
    assert "oaken" not in table.read_text("utf-8")
    assert "V9,caudal,7" in table.read_text("utf-8")


def test_reading_again_takes_the_change_from_outside(surveyed) -> None:
    table = surveyed[1]
    table.write_text(table.read_text("utf-8").replace("V9,caudal,4", "V9,caudal,5"), "utf-8")
    settings().element_index = settings().elements.find("V9")
    assert bpy.ops.counterpoise.read_table(table_path=str(table)) == {"FINISHED"}
    assert element("V9").position == 5
    assert settings().element_index == settings().elements.find("V9")
    assert element("V9").mesh == "closed"  # what the survey said still holds
    assert not settings().table_edited


def test_another_file_that_is_there_is_not_overwritten(surveyed, tmp_path: Path) -> None:
    other = tmp_path / "other.csv"
    other.write_text("mine\n", "utf-8")
    with pytest.raises(RuntimeError, match="not what the list was read from"):
        write(other)
    assert other.read_text("utf-8") == "mine\n"
    assert write(tmp_path / "new.csv") == {"FINISHED"}
    assert (tmp_path / "new.csv").is_file()


def test_edits_are_not_passed_over(surveyed) -> None:
    folder, table = surveyed
    element("V9").position = 7
    with pytest.raises(RuntimeError, match="edits that are not in it"):
        survey(folder, table)
    with pytest.raises(RuntimeError, match="edits that are not in it"):
        bpy.ops.counterpoise.import_skeleton(folder=str(folder), table_path=str(table), unit="mm")
    assert element("V9").position == 7
    write(table)
    assert survey(folder, table) == {"FINISHED"}


def test_edits_made_while_the_scans_are_surveyed_stay(surveyed, part) -> None:
    folder, table = surveyed
    operator = part("operators.surveying").COUNTERPOISE_OT_survey_folder
    drive = Drive(part, operator, folder=str(folder), unit="mm", table_path=str(table), expected="", propose_anew=False)
    drive.begin()
    element("V9").position = 7
    assert drive.wait() == {"CANCELLED"}
    assert "edits that are not in it" in drive.reports[-1][1]
    assert element("V9").position == 7


def test_the_list_shows_the_table_that_a_skeleton_was_built_from(animal_files) -> None:
    folder, table = animal_files
    bpy.ops.counterpoise.import_skeleton(folder=str(folder), table_path=str(table), unit="mm")
    assert len(settings().elements) == 13
    assert {row.mesh for row in settings().elements} == {"closed"}
    assert not settings().table_edited
    element("V9").position = 7
    assert settings().table_edited


def test_a_new_proposal_takes_the_place_of_the_table(surveyed) -> None:
    folder, table = surveyed
    element("V9").position = 7
    again = bpy.ops.counterpoise.survey_folder(folder=str(folder), unit="mm", table_path=str(table), propose_anew=True)
    assert again == {"FINISHED"}
    assert not settings().table_edited
    assert "no facets on an ellipsoid" not in table.read_text("utf-8")
    assert len(settings().elements) == 13


def test_unsound_meshes_and_files_without_a_row_are_told(surveyed) -> None:
    folder, table = surveyed
    box = make_box((10, 20, 30), (0, 0, 0))
    write_stl(folder / "V1.stl", box[:-1])
    write_stl(folder / "V3.stl", box[:, ::-1] + (120, 0, 400))
    write_stl(folder / "V4.stl", box + 500)
    write_stl(folder / "V6.stl", box + 500)
    write_stl(folder / "spare.stl", box + 900)
    assert survey(folder, table) == {"FINISHED"}
    kinds = {problem.element: problem.name for problem in settings().problems if problem.kind == "mesh"}
    assert "open, volume known to ±" in kinds["V1"]
    assert "inside out" in kinds["V3"]
    assert "duplicate of" in kinds.get("V4", "") + kinds.get("V6", "")
    assert "spare.stl: no row of the table names it" in problems()
    assert element("V3").problem == element("V3").mesh == "inside out"
    notes = bpy.data.texts["Survey"].as_string()
    assert all(problem in notes for problem in problems())


def test_what_neighbours_and_partners_show_is_listed_and_gone_to(surveyed) -> None:
    """Exchanged files, a scaled leg, a vertebra in inches, a count: each with what to do, and kept over a write."""
    folder, table = surveyed
    left, right = folder / "leg V2 left.stl", folder / "leg V2 right.stl"
    one, other = left.read_bytes(), right.read_bytes()
    left.write_bytes(other)
    right.write_bytes(one)
    write_stl(folder / "leg V8 left.stl", make_box((39, 31.2, 507), (-180, 70, 195)))
    write_stl(folder / "V7.stl", make_ellipsoid((26, 21, 18), (-120, 0, 400), 0.7) / 25.4)
    again = bpy.ops.counterpoise.survey_folder(
        folder=str(folder), unit="mm", table_path=str(table), expected="leg V=4, caudal=6"
    )
    assert again == {"FINISHED"}
    found = {(problem.kind, problem.element) for problem in settings().problems}
    assert {("side", "leg V2 left"), ("size", "leg V8 left"), ("unit", "V7")} <= found
    assert "caudal: 4 elements, 6 expected" in problems()
    for _ in range(2):
        index, problem = next((i, p) for i, p in enumerate(settings().problems) if p.kind == "unit")
        assert "in inches it measures" in problem.name
        assert problem.remedy == "if the file is in inches, set its unit to in in the table"
        settings().element_index = 0
        settings().problem_index = index
        assert settings().elements[settings().element_index].name == "V7"
        assert "in inches" in element("V7").problem
        write(table)
    assert "If the file is in inches, set its unit" in bpy.data.texts["Survey"].as_string()


def test_a_table_that_does_not_fit_is_listed_and_not_built(surveyed) -> None:
    folder, table = surveyed
    (folder / "V9.stl").unlink()
    table.write_text(table.read_text("utf-8").replace(",V4,dorsal", ",v3,dorsal"), "utf-8")
    assert survey(folder, table) == {"FINISHED"}
    assert "V9: missing: the folder holds no such file" in problems()
    assert any("the name 'v3' is already in row 4" in problem for problem in problems())
    with pytest.raises(RuntimeError, match=r"is already in row 4|there is no mesh file"):
        bpy.ops.counterpoise.import_skeleton(folder=str(folder), table_path=str(table), unit="mm")


def test_expected_counts_that_say_nothing_are_refused(surveyed) -> None:
    folder, table = surveyed
    with pytest.raises(RuntimeError, match="does not say how many of what"):
        bpy.ops.counterpoise.survey_folder(folder=str(folder), unit="mm", table_path=str(table), expected="many")


def test_going_to_an_element(animal_scene, animal_files) -> None:
    bpy.ops.counterpoise.read_table(table_path=str(animal_files[1]))
    assert settings().elements.find("V7") > 0
    bpy.context.view_layer.objects.active = animal_scene.rig
    bpy.ops.object.mode_set(mode="POSE")
    assert bpy.ops.counterpoise.select_element(element="V7") == {"FINISHED"}
    assert settings().elements[settings().element_index].name == "V7"
    assert [o["counterpoise_element"] for o in bpy.context.selected_objects] == ["V7"]
    assert bpy.context.view_layer.objects.active.name == "V7"
    bpy.ops.counterpoise.select_element(element="V8")
    assert [o["counterpoise_element"] for o in bpy.context.selected_objects] == ["V8"]
    assert bpy.data.objects["V7"].hide_select  # bones can be clicked again
    with pytest.raises(RuntimeError, match="neither in the list nor in the view"):
        bpy.ops.counterpoise.select_element(element="V77")


def test_a_click_on_a_problem_goes_to_its_element(surveyed) -> None:
    folder, table = surveyed
    element("V9").position = 7
    write(table)
    bpy.ops.counterpoise.import_skeleton(folder=str(folder), table_path=str(table), unit="mm")
    assert settings().problem_index == -1
    settings().element_index = 0
    settings().problem_index = 0
    assert settings().elements[settings().element_index].name == "V8"
    assert [o["counterpoise_element"] for o in bpy.context.selected_objects] == ["V8"]


def test_a_table_is_listed_before_there_is_a_survey(animal_files) -> None:
    assert bpy.ops.counterpoise.read_table(table_path=str(animal_files[1])) == {"FINISHED"}
    assert len(settings().elements) == 13
    assert {row.mesh for row in settings().elements} == {""}
    assert not settings().problems


def test_a_table_that_cannot_be_read_leaves_the_list(surveyed, tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text("file;element\nV1.stl;V1\n", "utf-8")
    with pytest.raises(RuntimeError, match="columns missing"):
        bpy.ops.counterpoise.read_table(table_path=str(bad))
    assert len(settings().elements) == 13


def test_proxies_are_coloured_by_series_or_like_bone(animal_scene: Scene, part) -> None:
    colours = part("properties.palette")
    proxies = {o.name: o for o in bpy.data.objects if o.type == "MESH"}

    def shown(name: str) -> tuple[float, ...]:
        proxy = proxies[name]
        material = proxy.data.materials[0]
        base = material.node_tree.nodes["Principled BSDF"].inputs["Base Color"].default_value
        assert tuple(base) == pytest.approx(tuple(material.diffuse_color))
        assert tuple(base) == pytest.approx(tuple(proxy.color))
        return tuple(round(value, 5) for value in proxy.color)

    assert animal_scene.settings.colours == "SCAN", "scans without colours are coloured by series"
    assert len({shown(name) for name in ("V1", "V5", "V9", "leg V2 left")}) == 4
    assert shown("V1") == shown("V2") == pytest.approx(colours.proxy_colour("dorsal"), abs=1e-5)
    mine = bpy.data.materials.new("mine")
    proxies["V3"].data.materials[0] = mine
    animal_scene.settings.colours = "BONE"
    assert {shown(name) for name in proxies if name != "V3"} == {shown("V1")}
    assert shown("V1") == pytest.approx((*colours.IVORY, 1.0), abs=1e-5)
    assert proxies["V3"].data.materials[0] == mine
    animal_scene.settings.colours = "SERIES"
    assert shown("V1") == pytest.approx(colours.proxy_colour("dorsal"), abs=1e-5)


def test_new_proxies_follow_the_setting(animal_files, part) -> None:
    settings().colours = "BONE"
    folder, table = animal_files
    bpy.ops.counterpoise.import_skeleton(folder=str(folder), table_path=str(table), unit="mm")
    assert {tuple(o.color) for o in bpy.data.objects if o.type == "MESH"} == {tuple(bpy.data.objects["V1"].color)}
    assert tuple(bpy.data.objects["V1"].color) == pytest.approx((*part("properties.palette").IVORY, 1.0), abs=1e-5)


TOUCHING = (
    ("skull", "cervical"),
    ("cervical", "dorsal"),
    ("dorsal", "sacral"),
    ("sacral", "caudal"),
    ("dorsal", "ribs"),
    ("girdle", "sacral"),
    ("girdle", "ribs"),
    ("girdle", "limb"),
)
CONES = {
    "all": np.eye(3),
    # Viénot, Brettel & Mollon 1999, for linear RGB; coefficients from memory
    "no red": np.array([[0.11238, 0.88762, 0], [0.11238, 0.88762, 0], [0.00401, -0.00401, 1]]),
    "no green": np.array([[0.29275, 0.70725, 0], [0.29275, 0.70725, 0], [-0.02234, 0.02234, 1]]),
}


@pytest.mark.parametrize("cones", CONES)
def test_series_that_touch_are_told_apart(part, cones: str) -> None:
    colours = part("properties.palette")

    def to_lab(series: str) -> np.ndarray:
        """CIELAB of a linear RGB colour, white D65 (IEC 61966-2-1, CIE 015)."""
        seen = CONES[cones] @ np.array(colours.proxy_colour(series)[:3])
        to_xyz = [
            [0.4124564, 0.3575761, 0.1804375],
            [0.2126729, 0.7151522, 0.0721750],
            [0.0193339, 0.1191920, 0.9503041],
        ]
        x, y, z = np.cbrt(np.array(to_xyz) @ seen / (0.95047, 1.0, 1.08883))
        return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])

    for one, other in TOUCHING:
        assert np.linalg.norm(to_lab(one) - to_lab(other)) > 6, (one, other)
