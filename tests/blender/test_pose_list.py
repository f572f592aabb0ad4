"""The list of poses: sorted as the user likes, the document's own order left alone; a picture of each pose."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from scenes import Scene
from spanish_screens import Context

op = bpy.ops.counterpoise
ANGLES = {"pose 10": (0.3, 0.3), "Pose 2": (-0.3, 0.15), "alert": (0.1, -0.4)}


@pytest.fixture
def posed(animal_scene: Scene) -> Scene:
    """Four poses that differ in the tail: as scanned, pose 10, Pose 2, alert."""
    for name, (flexion, lateral) in ANGLES.items():
        animal_scene.write_pose({"V9": np.array([flexion, lateral, 0.0])})
        assert op.save_pose(name=name) == {"FINISHED"}
    return animal_scene


def kept(scene: Scene) -> list[str]:
    return [pose.name for pose in scene.document.poses]


def shown(scene: Scene, sort: str, reverse: bool = False) -> list[str]:
    scene.settings.pose_list.sort, scene.settings.pose_list.reverse = sort, reverse
    rows = scene.part("bridge.pose_order").order_rows(bpy.context.scene)
    return [scene.settings.poses[i].name for i in rows]


def test_it_is_sorted_by_name_numbers_as_numbers(posed: Scene) -> None:
    assert shown(posed, "OWN") == ["as scanned", "pose 10", "Pose 2", "alert"]
    assert shown(posed, "NAME") == ["alert", "as scanned", "Pose 2", "pose 10"]
    assert shown(posed, "NAME", True) == ["pose 10", "Pose 2", "as scanned", "alert"]
    assert shown(posed, "OWN", True) == ["alert", "Pose 2", "pose 10", "as scanned"]


def test_a_row_whose_figures_are_being_computed_says_so_in_full(
    posed: Scene, part, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As after opening a file: no figures yet, and the column of the state is no wider than its head otherwise."""
    panel = part("panels.poses")
    monkeypatch.setattr(panel, "drawn_figures", lambda _scene: (None, (), False))
    _, width = panel.list_columns(Context())[0]
    assert width >= panel.AROUND_PX + panel.LETTER_PX * len("computing")


@pytest.mark.parametrize(
    ("sort", "figure", "sign"),
    [("MARGIN", "distance_margin_m", -1), ("TIP", "tip_angle_rad", -1), ("MASS", "mass_kg", 1)],
)
def test_it_is_sorted_by_figures_the_best_first(posed: Scene, sort: str, figure: str, sign: int) -> None:
    document, assess = posed.document, posed.part("core_calcs.studies.assess").assess
    found = {
        pose.name: getattr(assess(document.skeleton, pose, document.build, document.site), figure)
        for pose in document.poses
    }
    values = [sign * found[name] for name in shown(posed, sort)]
    assert values == sorted(values)
    assert len(set(found.values())) > 2 or sort == "MASS"


def test_what_is_not_known_comes_last_either_way(posed: Scene, monkeypatch) -> None:
    order = posed.part("bridge.pose_order")
    measured = dict(order.drawn_measures(bpy.context.scene))
    del measured["Pose 2"]
    monkeypatch.setattr(order, "drawn_measures", lambda _scene: measured)
    for reverse in (False, True):
        assert shown(posed, "MARGIN", reverse)[-1] == "Pose 2"
    assert shown(posed, "MARGIN")[:3] == shown(posed, "MARGIN", True)[:3][::-1]


def test_sorting_leaves_the_document_alone_until_it_is_told(posed: Scene) -> None:
    text, posed.settings.pose_index = posed.settings.document.as_string(), 2
    wanted = shown(posed, "NAME")
    assert posed.settings.document.as_string() == text
    assert op.keep_pose_order() == {"FINISHED"}
    assert kept(posed) == wanted == [row.name for row in posed.settings.poses]
    assert posed.settings.poses[posed.settings.pose_index].name == "Pose 2", "the selection stays with its pose"
    assert (posed.settings.pose_list.sort, posed.settings.pose_list.reverse) == ("OWN", False)
    assert not op.keep_pose_order.poll(), "there is nothing to keep"


def test_a_pose_is_chosen_by_its_name(posed: Scene) -> None:
    assert op.select_pose(name="pose 10") == {"FINISHED"}
    assert posed.settings.pose_index == 1
    with pytest.raises(RuntimeError, match="no pose of that name"):
        op.select_pose(name="nobody")


def make(scene: Scene) -> int:
    return scene.part("bridge.thumbnails").make_thumbnails(bpy.context.scene, 100)[0]


def pictures(scene: Scene) -> dict[str, str]:
    """By name: Blender gives no numbers of icons where it has no window."""
    find = scene.part("bridge.thumbnails").name_thumbnail
    return {row.name: find(bpy.context.scene, row.name) for row in scene.settings.poses}


def test_every_pose_has_a_picture_made_once(posed: Scene) -> None:
    thumbnails = posed.part("bridge.thumbnails")
    assert thumbnails.make_thumbnails(bpy.context.scene, 1) == (1, True), "one at a time"
    assert make(posed) == 3
    assert make(posed) == 0
    found = pictures(posed)
    assert all(found.values())
    assert len(set(found.values())) == 4
    picture = find_pixels(thumbnails, found["alert"])
    assert picture.shape == (128, 128, 4)
    opaque = picture[..., 3] > 0.5
    assert 0.02 < opaque.mean() < 0.8
    assert np.flatnonzero(opaque.any(axis=1))[-1] > 90, "the sign of the state stands at the top, the last rows"


def find_pixels(thumbnails, name: str) -> np.ndarray:
    """(rows, columns, 4), the lowest row first, as Blender holds them."""
    preview = thumbnails._previews[name]
    return np.array(preview.image_pixels_float[:]).reshape(*preview.image_size, 4)


def test_a_picture_follows_its_pose_and_no_other(posed: Scene) -> None:
    make(posed)
    before = pictures(posed)
    posed.write_pose({"V9": np.array([-0.2, 0.3, 0.0]), "V3": np.array([0.2, 0.0, 0.0])})
    op.save_pose(name="alert", overwrite=True)
    op.note_pose(name="pose 10", note="quiet")
    op.rename_pose(name="Pose 2", new_name="second")
    make(posed)
    after = pictures(posed)
    assert after["alert"] != before["alert"]
    assert after["second"] == before["Pose 2"], "the same content, the same picture"
    assert after["pose 10"] == before["pose 10"]


def test_pictures_are_given_back(posed: Scene) -> None:
    make(posed)
    thumbnails = posed.part("bridge.thumbnails")
    thumbnails.drop_thumbnails()
    assert thumbnails._previews is None
    assert not any(pictures(posed).values())
    assert make(posed) == 4


def test_the_poses_checked_are_written_as_a_page(posed: Scene, tmp_path) -> None:
    op.note_pose(name="alert", note="head up")
    for row in posed.settings.poses:
        row.compared = row.name in ("alert", "Pose 2")
    assert op.write_poses_page(filepath=str(tmp_path / "shown")) == {"FINISHED"}
    text = (tmp_path / "shown.html").read_text("utf-8")
    assert text.count("data:image/png;base64,") == 2
    assert "head up" in text
    assert "pose 10" not in text
    (tmp_path / "own.html").write_text("mine", "utf-8")
    with pytest.raises(RuntimeError, match="something else is there"):
        op.write_poses_page(filepath=str(tmp_path / "own.html"))
    assert (tmp_path / "own.html").read_text("utf-8") == "mine"
