"""The dog with a bone taken out and made of another: held against the true one."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial import cKDTree

from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.mesh.element_surface import read_element
from core_calcs.mesh.nearest import NearestPoints
from core_calcs.mesh.samples import sample_surface
from core_calcs.mesh.surface import Surface
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.table import TableRow
from core_calcs.studies.articulate import articulate
from core_calcs.studies.joint_cache import JointCache
from core_calcs.studies.missing_bones import make_bone
from core_calcs.studies.new_bones import BoneOrder
from core_calcs.studies.survey import survey_folder

pytestmark = [pytest.mark.dog, pytest.mark.slow]
SETTINGS = LimitSettings(search_rad=0.2)


def row(file, name, series, parent, attachment, position=None) -> TableRow:
    side = {".L": "left", ".R": "right"}.get(name[-2:], "middle")
    reason = "held here" if attachment == "fixed" else ""
    return TableRow(f"BONE{file}.stl", None, "m", name, series, position, side, parent, attachment, reason, "not known")


def make_document(folder: Path, rows: list[TableRow], cache: JointCache) -> SkeletonDocument:
    skeleton = articulate(rows, survey_folder(folder, "m"), folder, "dog", SETTINGS, cache=cache)
    return SkeletonDocument(skeleton, (Pose("as scanned"),), default_build(), Site(), ".")


@pytest.fixture(scope="module")
def place(dog_folder, tmp_path_factory):
    """A function that makes the documents of some rows whole and without one bone, and the bone anew."""

    def make(rows: list[TableRow], name: str, way: str, source: str):
        folder, cache = tmp_path_factory.mktemp("dog"), JointCache(tmp_path_factory.mktemp("joints"))
        for own in rows:
            shutil.copy(dog_folder / own.file, folder)
        whole = make_document(folder, rows, cache)
        parent = next(own.parent for own in rows if own.element == name)
        rest = [own for own in rows if own.element != name]
        rest = [
            replace(own, parent=parent, attachment="fixed", reason="one is missing between them")
            if own.parent == name
            else own
            for own in rest
        ]
        order = BoneOrder(name, way, source, "taken out", "", "2026-11-27T03:10:00Z")
        made = make_bone(make_document(folder, rest, cache), folder, order, cache=cache)
        return whole, made, *(read(own, folder, name) for own in (whole, made))

    return make


def read(document: SkeletonDocument, folder: Path, name: str) -> Surface:
    source = document.skeleton.elements[document.skeleton.index(name)].source
    return read_element(folder, source.file, source.body, source.unit_m)


def bounds(document: SkeletonDocument, child: str) -> np.ndarray:
    limits = document.skeleton.joint_of(child).limits
    return np.degrees([(own.low.angle_rad, own.high.angle_rad) for own in limits])


def test_a_metacarpal_mirrored_lies_on_the_true_one(place):
    """The model is symmetric: vertex upon vertex to the digits of the files."""
    rows = [row("C_7", "C7", "cervical", "", "root", 7)]
    for side in "LR":
        rows += [
            row(f"Carpal_III_{side}", f"Carpal 3.{side}", "limb", "C7", "fixed"),
            row(f"Os_metacarpale_III_{side}", f"Metacarpal 3.{side}", "limb", f"Carpal 3.{side}", "limb"),
            row(
                f"Phalanxpmxinutlis_digiti_III_{side}{'_' * (side == 'L')}",
                f"Phalanx 3.{side}",
                "limb",
                f"Metacarpal 3.{side}",
                "limb",
            ),
        ]
    whole, made, true, ours = place(rows, "Metacarpal 3.L", "mirrored", "Metacarpal 3.R")
    assert len(ours.vertices) == len(true.vertices)
    assert cKDTree(true.vertices).query(ours.vertices)[0].max() < 1e-6
    for child in ("Metacarpal 3.L", "Phalanx 3.L"):
        one, other = (own.skeleton.joint_of(child) for own in (made, whole))
        assert (one.parent, one.kind, one.confidence) == (other.parent, other.kind, other.confidence)
        assert np.linalg.norm(one.X_WJ[:3, 3] - other.X_WJ[:3, 3]) < 1e-4
    assert made.skeleton.joint_of("Phalanx 3.L").kind == "limb"
    # A file that is wound the other way round is sampled elsewhere: on so small a ball limits differ as left and right.
    np.testing.assert_allclose(bounds(made, "Phalanx 3.L"), bounds(whole, "Phalanx 3.L"), atol=15)


def test_a_vertebra_of_the_tail_scaled_lies_near_the_true_one(place):
    """Its neighbour's shape in its place: root mean square distance of the surfaces below .08 s, .63 mm here."""
    rows = [row("Ca_4", "Ca4", "caudal", "", "root", 4)]
    rows += [row(f"Ca_{k}", f"Ca{k}", "caudal", f"Ca{k - 1}", "column", k) for k in range(5, 11)]
    whole, made, true, ours = place(rows, "Ca7", "scaled", "Ca6")
    size = float(np.cbrt(whole.skeleton.elements[whole.skeleton.index("Ca7")].solid.volume_m3))
    off = [_measure(ours, true, size), _measure(true, ours, size)]
    assert np.sqrt(np.mean(np.square(off))) < 0.08 * size
    for child in ("Ca7", "Ca8"):
        one, other = (own.skeleton.joint_of(child) for own in (made, whole))
        assert (one.parent, one.kind, one.confidence) == (other.parent, "column", "found")
        assert np.linalg.norm(one.X_WJ[:3, 3] - other.X_WJ[:3, 3]) < 0.1 * size


def _measure(one: Surface, other: Surface, size: float) -> float:
    """Root mean square distance of points of one surface from another [m]."""
    points = sample_surface(one, np.inf, 2000, 2000).points
    return float(np.sqrt(np.mean(np.square(points - NearestPoints(other, size / 60).find(points)).sum(axis=1))))
