"""Surveying a folder: one bad file never stops it, every state is named, duplicates are found."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.records import Survey
from core_calcs.spatial.errors import MeshFileError
from core_calcs.spatial.progress import Progress
from core_calcs.studies.survey import survey_folder


def write_box(path: Path, extents: tuple[float, float, float], at: tuple[float, float, float] = (0, 0, 0)) -> None:
    box = trimesh.creation.box(extents=extents)
    box.apply_translation(at)
    data = box.export(file_type=path.suffix[1:])
    path.write_bytes(data if isinstance(data, bytes) else data.encode())


def test_every_kind_of_file_is_recorded(tmp_path: Path) -> None:
    write_box(tmp_path / "sound.stl", (40, 30, 20))
    (tmp_path / "empty.stl").write_bytes(b"")
    (tmp_path / "words.ply").write_bytes(b"words")
    survey = survey_folder(tmp_path, "mm")
    states = {file.file: file.state for file in survey.files}
    assert states == {"empty.stl": "empty", "sound.stl": "read", "words.ply": "unreadable"}
    assert "0 bytes" in survey.files[0].problem
    assert survey.files[0].whole is None
    sound = survey.find("sound.stl", None)
    assert sound is not None
    assert sound.solid.volume_m3 == pytest.approx(24e-6)
    assert survey.find("sound.stl", 2) is None
    assert survey.find("nothing.stl", None) is None


def test_gltf_is_in_metres_whatever_the_folder_is_in(tmp_path: Path) -> None:
    write_box(tmp_path / "a.glb", (0.4, 0.3, 0.2))
    write_box(tmp_path / "b.stl", (40, 30, 20))
    a, b = survey_folder(tmp_path, "cm").files
    assert (a.unit, b.unit) == ("m", "cm")
    assert a.whole.solid.volume_m3 == pytest.approx(b.whole.solid.volume_m3, rel=1e-6)


def test_duplicates_by_bytes_and_by_geometry(tmp_path: Path) -> None:
    write_box(tmp_path / "a.stl", (40, 30, 20))
    write_box(tmp_path / "copy.stl", (40, 30, 20))
    write_box(tmp_path / "other_format.obj", (40, 30, 20))
    write_box(tmp_path / "moved.stl", (40, 30, 20), at=(1, 0, 0))
    marked = {file.file: file.whole.duplicate_of for file in survey_folder(tmp_path, "mm").files}
    assert marked == {
        "a.stl": None,
        "copy.stl": ("a.stl", None),
        "other_format.obj": ("a.stl", None),
        "moved.stl": None,
    }
    states = survey_folder(tmp_path, "mm").find("copy.stl", None).solid.states
    assert states == ("closed", "duplicate")


def test_a_copy_within_a_file_of_several_bodies(tmp_path: Path) -> None:
    """The file of its own is the original although it comes later in the folder."""
    boxes = [trimesh.creation.box(extents=(2, 3, 4)).apply_translation((x, 0, 0)) for x in (0, 10, 20)]
    (tmp_path / "a_group.stl").write_bytes(trimesh.util.concatenate(boxes).export(file_type="stl"))
    (tmp_path / "single.stl").write_bytes(boxes[1].export(file_type="stl"))
    group, single = survey_folder(tmp_path, "mm").files
    assert [body.duplicate_of for body in group.bodies] == [None, ("single.stl", None), None]
    assert group.whole.duplicate_of is None
    assert single.whole.duplicate_of is None


def test_a_bone_of_several_bodies_exported_again(tmp_path: Path) -> None:
    """In another format; the shorter name is the original although the copy stands before it in the folder."""
    boxes = [trimesh.creation.box(extents=(2, 3, 4)).apply_translation((x, 0, 0)) for x in (0, 10)]
    pair = trimesh.util.concatenate(boxes)
    for name in ("C5 (1).ply", "C5.stl", "D5.stl"):
        shift = (0, 0, 7) if name == "D5.stl" else (0, 0, 0)
        (tmp_path / name).write_bytes(pair.copy().apply_translation(shift).export(file_type=name[-3:]))
    marked = {file.file: file.whole.duplicate_of for file in survey_folder(tmp_path, "mm").files}
    assert marked == {"C5 (1).ply": ("C5.stl", None), "C5.stl": None, "D5.stl": None}


def test_several_bodies_have_their_own_records(tmp_path: Path) -> None:
    boxes = [trimesh.creation.box(extents=(2, 3, 4)).apply_translation((x, 0, 0)) for x in (0, 10)]
    (tmp_path / "pair.ply").write_bytes(trimesh.util.concatenate(boxes).export(file_type="ply"))
    (pair,) = survey_folder(tmp_path, "m").files
    assert [body.solid.centre_m[0] for body in pair.bodies] == pytest.approx([10, 0])
    assert pair.whole.solid.states == ("closed", "several bodies")
    assert pair.whole.solid.volume_m3 == pytest.approx(48)


def test_points_lie_on_the_surface_and_are_few(tmp_path: Path) -> None:
    ball = trimesh.creation.icosphere(subdivisions=5)
    (tmp_path / "ball.stl").write_bytes(ball.export(file_type="stl"))
    (file,) = survey_folder(tmp_path, "m").files
    points = file.whole.points_m
    assert len(points) <= 100
    assert np.linalg.norm(points, axis=1) == pytest.approx(1, abs=1e-6)
    nearest = np.linalg.norm(points[:, None] - points[None], axis=2) + 9 * np.eye(len(points))
    assert nearest.min() > 0.1


def test_progress_is_told_and_may_stop_it(tmp_path: Path) -> None:
    for name in "abc":
        write_box(tmp_path / f"{name}.stl", (1, 2, 3))
    told: list[float] = []

    def note(_doing: str, share: float) -> None:
        told.append(share)

    progress: Progress = note
    survey_folder(tmp_path, "mm", progress)
    assert told == sorted(told)
    assert told[-1] == 1.0

    def stop(_doing: str, _share: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        survey_folder(tmp_path, "mm", stop)


def test_folders_that_cannot_be_surveyed(tmp_path: Path) -> None:
    with pytest.raises(MeshFileError, match="holds no STL"):
        survey_folder(tmp_path, "mm")
    with pytest.raises(MeshFileError, match="no such folder"):
        survey_folder(tmp_path / "nowhere", "mm")
    with pytest.raises(MeshFileError, match="unknown unit 'furlong'"):
        survey_folder(tmp_path, "furlong")


@pytest.mark.dog
def test_dog(dog_survey: Survey) -> None:
    """172 files, the rib cage 74 bodies of which one repeats the xiphoid cartilage; all closed after repair."""
    assert len(dog_survey.files) == 172
    assert all(file.state == "read" for file in dog_survey.files)
    cage = next(file for file in dog_survey.files if "Ribcage" in file.file)
    assert len(cage.bodies) == 74
    assert sum("doubled surface" in body.solid.states for body in cage.bodies) == 11
    copies = [body for file in dog_survey.files for body in file.bodies if body.duplicate_of]
    assert [body.duplicate_of for body in copies] == [("BONEXiphoid_cartilage.stl", None)]
    assert all("open" not in body.solid.states for file in dog_survey.files for body in file.bodies)
