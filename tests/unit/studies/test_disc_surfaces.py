"""Discs between made-up vertebrae: end plates .8 by .6 m, .1 m apart; lofted, so that nearly a box."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.skeleton.table import TableRow
from core_calcs.spatial.errors import SkeletonError
from core_calcs.studies.disc_surfaces import make_disc_surfaces
from core_calcs.studies.survey import survey_folder
from tests.found_joints import articulate
from tests.scattered_column import find_place


@pytest.fixture(scope="module")
def folder(shapes, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("discs")
    for name, x in (("V1", 1.0), ("V2", 0.0)):
        surface = shapes.make_vertebra(x)
        trimesh.Trimesh(surface.vertices, surface.faces, process=False).export(path / f"{name}.stl")
    return path


@pytest.fixture(scope="module")
def document(folder) -> SkeletonDocument:
    rows = [
        TableRow("V2.stl", None, "m", "V2", "dorsal", 2, "middle", "", "root", "", "scanned"),
        TableRow("V1.stl", None, "m", "V1", "dorsal", 1, "middle", "V2", "column", "", "scanned"),
    ]
    skeleton = articulate(rows, survey_folder(folder, "m"), folder, "column", LimitSettings(search_rad=0.06))
    return SkeletonDocument(skeleton, (), default_build(), Site(), ".")


def test_a_disc_is_closed_and_as_large_as_area_times_gap(document, folder):
    (disc,) = make_disc_surfaces(document, folder)
    mesh = trimesh.Trimesh(disc.surface.vertices, disc.surface.faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert disc.volume_m3 == pytest.approx(mesh.volume, rel=1e-9)
    plates = document.skeleton.joint_of("V1").end_plates
    area = np.mean([plate.area_m2 for plate in plates])
    assert disc.gap_m == pytest.approx(0.1, abs=0.003)
    assert disc.volume_m3 == pytest.approx(area * disc.gap_m, rel=0.08)
    low, high = disc.surface.vertices.min(axis=0), disc.surface.vertices.max(axis=0)
    np.testing.assert_allclose(low[0], 0.45, atol=0.005)
    np.testing.assert_allclose(high[0], 0.55, atol=0.005)
    np.testing.assert_allclose(high[1:] - low[1:], [0.8, 0.6], atol=0.08)


def test_a_disc_conforms_to_its_end_plates(document, folder):
    """Half of its vertices lie on the one, half on the other, and none in either bone."""
    (disc,) = make_disc_surfaces(document, folder, ["V1"])
    x = disc.surface.vertices[:, 0]
    np.testing.assert_allclose(np.minimum(np.abs(x - 0.45), np.abs(x - 0.55)), 0, atol=0.005)


def test_where_there_is_no_disc_it_is_told(document, folder):
    with pytest.raises(SkeletonError, match="V2"):
        make_disc_surfaces(document, folder, ["V2"])
    skeleton = document.skeleton
    X = find_place(skeleton, "V1").copy()
    X[0, 3] -= 0.12
    facets = tuple(
        replace(f, centroid_m=f.centroid_m - [0.12, 0, 0], outline_m=f.outline_m - [0.12, 0, 0])
        if f.element == "V1" else f
        for f in skeleton.joints[0].facets
    )  # fmt: skip
    elements = tuple(replace(e, X_WE=X) if e.name == "V1" else e for e in skeleton.elements)
    joint = replace(skeleton.joints[0], facets=facets)
    overlapping = replace(document, skeleton=replace(skeleton, elements=elements, joints=(joint,)))
    with pytest.raises(SkeletonError, match="touch"):
        make_disc_surfaces(overlapping, folder, ["V1"])
    bare = replace(skeleton, joints=(replace(joint, facets=()),))
    with pytest.raises(SkeletonError, match="no joint between end plates"):
        make_disc_surfaces(replace(document, skeleton=bare), folder)
