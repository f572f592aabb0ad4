"""The page of poses by itself: pictures that are the poses', notes, and nobody's file lost."""

from __future__ import annotations

import base64
import io
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from core_calcs.document.document import SkeletonDocument
from core_calcs.document.meshes import locate_mesh_folder
from core_calcs.handover.comparison_page import write_poses_page
from core_calcs.handover.png import encode_png
from core_calcs.spatial.errors import OutputError, SkeletonError
from core_calcs.spatial.progress import ignore_progress
from tests.unit.handover.page import Page

Kept = tuple[SkeletonDocument, Path]


def write(kept: Kept, page: Path, names: tuple[str, ...] = ()) -> str:
    written, missing = write_poses_page(*kept, page, names, ignore_progress)
    assert written == page
    assert not missing
    return page.read_text("utf-8")


def test_a_picture_is_read_back_as_it_was(rng: np.random.Generator) -> None:
    """By an independent reader."""
    picture = rng.random((7, 11, 4)).astype(np.float32)
    picture[..., 3] = np.maximum(picture[..., 3], 0.1)
    found = np.array(Image.open(io.BytesIO(encode_png(picture))))
    np.testing.assert_array_equal(found, np.rint(picture * 255).astype(np.uint8))


def test_every_pose_has_picture_note_and_figures_in_one_file(box_document: Kept, tmp_path: Path) -> None:
    document, path = box_document
    noted = replace(document, poses=(replace(document.poses[0], note="calm <& quiet>"), *document.poses[1:]))
    text = write((noted, path), tmp_path / "poses.html")
    page = Page(text)
    assert {"script", "link"} & set(page.tags) == set()
    assert "calm <& quiet>" in page.text
    shown = [Image.open(io.BytesIO(base64.b64decode(own))) for own in re.findall(r"base64,([^\"]+)", text)]
    assert len(shown) == len(document.poses)
    assert len({own.size for own in shown}) == 1, "one scale"
    pixels = [np.array(own) for own in shown]
    assert np.abs(pixels[0].astype(int) - pixels[1]).max() > 100, "the poses differ"
    for pose in document.poses:
        assert pose.name in page.text
    assert list(tmp_path.iterdir()) == [tmp_path / "poses.html"]


def test_only_such_a_page_is_replaced(box_document: Kept, tmp_path: Path) -> None:
    page = tmp_path / "poses.html"
    name = box_document[0].poses[0].name
    write(box_document, page)
    assert write(box_document, page, (name,)).count("data:image/png") == 1
    page.write_text("mine", "utf-8")
    with pytest.raises(OutputError, match="something else is there"):
        write(box_document, page)
    assert page.read_text("utf-8") == "mine"
    with pytest.raises(OutputError, match="its folder is not there"):
        write(box_document, tmp_path / "no" / "poses.html")
    with pytest.raises(SkeletonError, match="no pose of that name"):
        write(box_document, tmp_path / "other.html", ("nobody",))
    assert list(tmp_path.iterdir()) == [page]


def test_what_is_missing_is_left_out_of_the_pictures_and_told(own_box_document: Kept, tmp_path: Path) -> None:
    document, path = own_box_document
    file = document.skeleton.elements[-1].source.file
    (locate_mesh_folder(document, path) / file).unlink()
    _, missing = write_poses_page(document, path, tmp_path / "poses.html", (), ignore_progress)
    assert missing == (file,)
    assert "data:image/png" in (tmp_path / "poses.html").read_text("utf-8")
