"""The demo that comes with the add-on is what its generator makes now: its scans, names and poses."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pytest

from core_calcs.document.meshes import check_meshes
from core_calcs.document.reading import read_document
from core_calcs.mesh.reading import read_surface

sys.path.insert(0, str(Path(__file__).parents[2] / "demo_blend"))
from make_opened import DETAIL, DOCUMENT, SEED, encode_ply, make_small_scan
from strider.animal import _make_element, name_vertebra, plan_bones
from strider.column import plan_column
from strider_poses import POSES, TAIL

FOLDER = Path(__file__).parents[2] / "addon" / "demo"
AGAIN = "make it again: python demo_blend/make_opened.py"


@pytest.fixture(scope="module")
def document():
    return read_document(FOLDER / DOCUMENT)


def list_names() -> list[str]:
    """Every element that the generator draws, by its number."""
    column = plan_column()
    return [*map(name_vertebra, column), *(bone.name for bone in plan_bones(column))]


def test_every_scan_is_the_one_that_the_document_was_made_from(document):
    assert {check.state for check in check_meshes(document, FOLDER / DOCUMENT)} == {"as recorded"}
    files = {element.source.file for element in document.skeleton.elements}
    assert files == {path.name for path in (FOLDER / "scans").iterdir()}


def test_its_elements_are_those_that_are_drawn(document):
    assert {element.name for element in document.skeleton.elements} == set(list_names()), AGAIN


@pytest.mark.parametrize("name", ["caudal 40", "femur left", "foot phalanx 2-1 right"])
def test_a_scan_is_what_is_drawn_now(document, name):
    scan = make_small_scan(_make_element(SEED, DETAIL, list_names().index(name)))
    lies = read_surface(FOLDER / "scans" / scan.file, 0.001)
    assert len(lies.faces) == len(scan.faces), AGAIN
    assert np.abs(lies.vertices * 1000 - scan.vertices).max() < 0.1, AGAIN


def test_its_poses_are_those_of_the_large_demo(document):
    assert [pose.name for pose in document.poses] == list(POSES), AGAIN
    for pose in document.poses:
        for child, angle in POSES[pose.name].flexion_deg.items():
            if child.partition(" ")[0] in ("tibia", "astragalus", "ulna"):  # hinges: one angle is all they have
                turned = pose.angles_rad.get(child, np.zeros(3))[0]
                assert abs(abs(math.degrees(turned)) - abs(angle)) < 0.1, f"{pose.name}, {child}: {AGAIN}"
    assert TAIL[0] in {foot.name for foot in document.skeleton.feet}


def test_indices_take_two_bytes_and_are_read_back(tmp_path):
    vertices = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1.0]])
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    data = encode_ply(vertices, faces)
    assert len(data) - data.index(b"end_header\n") - 11 == 4 * 12 + 4 * 7
    (tmp_path / "a.ply").write_bytes(data)
    read = read_surface(tmp_path / "a.ply", 1.0)
    assert np.array_equal(read.vertices, vertices)
    assert np.array_equal(read.faces, faces)
    with pytest.raises(ValueError, match="65536 vertices"):
        encode_ply(np.zeros((65536, 3)), faces)
