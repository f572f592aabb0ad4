"""Pictures of poses: where the animal is in them, whichever way it faces, and what tells them apart."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from core_calcs.document.document import SkeletonDocument
from core_calcs.document.meshes import locate_mesh_folder
from core_calcs.skeleton.pose import Pose
from core_calcs.spatial.errors import SkeletonError
from core_calcs.studies.display import make_display_surfaces
from core_calcs.studies.pose_pictures import (
    PictureParts,
    Pixels,
    draw_parts,
    place_parts,
    prepare_pictures,
    tell_places,
)

Kept = tuple[SkeletonDocument, PictureParts]


@pytest.fixture(scope="module")
def kept(box_document: tuple[SkeletonDocument, Path]) -> Kept:
    document, path = box_document
    surfaces = make_display_surfaces(document.skeleton.elements, locate_mesh_folder(document, path), 500)
    return document, prepare_pictures(surfaces)


def draw(kept: Kept, pose: Pose, pixels: int = 96, across: float | None = None) -> Pixels:
    document, parts = kept
    return draw_parts(place_parts(document.skeleton, parts, pose, document.site.ground_m), pixels, across)


def turned(pose: Pose, degrees: float) -> Pose:
    X, angle = np.eye(4), np.radians(degrees)
    X[:2, :2] = [[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]
    X[:2, 3] = 3.0, -2.0
    return replace(pose, X_WN=X @ pose.X_WN)


def test_it_is_a_picture_with_nothing_about_the_animal(kept: Kept) -> None:
    picture = draw(kept, kept[0].poses[0])
    assert picture.shape == (96, 96, 4)
    assert picture.dtype == np.float32
    assert (picture >= 0).all()
    assert (picture <= 1).all()
    covered = (picture[..., 3] > 0.5).mean()
    assert 0.03 < covered < 0.9
    assert not picture[0, 0, 3]


def test_the_ground_runs_from_side_to_side_under_the_feet(kept: Kept) -> None:
    picture = draw(kept, kept[0].poses[0])
    rows = np.flatnonzero((picture[..., 3] > 0.4).all(axis=1))
    assert 1 <= len(rows) <= 3
    assert not (picture[rows[-1] + 2 :, :, 3] > 0).any(), "nothing is below the ground"


def test_it_is_seen_from_its_right_whichever_way_it_faces(kept: Kept) -> None:
    """The head at the right: turned about the vertical and moved, the picture is the same."""
    pose = kept[0].poses[0]
    plain, other = draw(kept, pose), draw(kept, turned(pose, 130))
    np.testing.assert_allclose(other, plain, atol=0.35)  # rounding moves single cells of an edge
    assert np.abs(other - plain).mean() < 2e-3
    document, parts = kept
    placed = place_parts(document.skeleton, parts, turned(pose, 130), 0.0)
    head = max(document.skeleton.elements, key=lambda element: element.X_WE[0, 3] + element.solid.centre_m[0])
    at = parts.names.index(head.name)
    ahead = placed.seen[parts.ends[at] : parts.ends[at + 1], 0].mean()
    assert ahead > placed.seen[:, 0].mean()


def test_poses_that_differ_have_other_pictures_and_other_bytes(kept: Kept) -> None:
    first, second = kept[0].poses[:2]
    assert np.abs(draw(kept, first) - draw(kept, second)).max() > 0.5
    assert tell_places(kept[0].skeleton, first) != tell_places(kept[0].skeleton, second)
    assert tell_places(kept[0].skeleton, first) == tell_places(kept[0].skeleton, replace(first, name="x", note="y"))


def test_pictures_of_one_scale_have_the_ground_at_one_height(kept: Kept) -> None:
    grounds = [
        np.flatnonzero((draw(kept, pose, 96, 8.0)[..., 3] > 0.4).all(axis=1)).tolist() for pose in kept[0].poses[:2]
    ]
    assert grounds[0] == grounds[1]
    assert grounds[0]


def test_a_pose_that_does_not_fit_is_refused_and_no_surface_gives_a_bare_ground(kept: Kept) -> None:
    with pytest.raises(SkeletonError, match="nobody"):
        draw(kept, Pose("x", {"nobody": np.zeros(3)}))
    bare = draw((kept[0], prepare_pictures({})), kept[0].poses[0])
    assert bare.shape == (96, 96, 4)
    assert (bare[..., 3] > 0.4).all(axis=1).any()
