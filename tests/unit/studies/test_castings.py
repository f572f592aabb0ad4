"""Castings set on a document, their voids measured on its files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.build.build import Build, Casting, Weighing
from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.mesh.reading import hash_file, read_surface
from core_calcs.mesh.survey import survey_body
from core_calcs.site.site import Site
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.errors import Cancelled, DocumentError, SkeletonError
from core_calcs.studies import castings
from core_calcs.studies.assess import assess
from core_calcs.studies.castings import (
    apply_build,
    cast_all,
    cast_element,
    cast_series,
    note_weighings,
    refuse_wall,
    take_voids,
)

HOLLOW = Casting("hollow", 0.005, 0.001)
RADIUS = 0.1


@pytest.fixture
def document(tmp_path: Path) -> SkeletonDocument:
    """One element: a ball of 100 mm in a file in millimetres."""
    trimesh.creation.icosphere(subdivisions=5, radius=1000 * RADIUS).export(tmp_path / "ball.stl")
    solid = survey_body(read_surface(tmp_path / "ball.stl", 0.001))[1]
    source = Source("ball.stl", None, 0.001, hash_file(tmp_path / "ball.stl"))
    element = Element("ball", "skull", None, "middle", "scanned", source, solid, np.eye(4))
    return SkeletonDocument(build_skeleton("Ball", (element,), ()), (), default_build(), Site(), "scans")


def test_voids_are_measured_once_and_kept(document: SkeletonDocument, tmp_path: Path) -> None:
    """Closed form of the hollow ball; back and forth between walls no file is read again."""
    cast = apply_build(document, cast_all(document.build, HOLLOW), tmp_path)
    mass = assess(cast.skeleton, Pose("neutral"), cast.build, cast.site).mass_kg
    density = document.build.material.density_kg_m3
    assert mass == pytest.approx(density * 4 / 3 * np.pi * (RADIUS**3 - (RADIUS - 0.005) ** 3), rel=3e-3)
    thick = apply_build(cast, cast_all(cast.build, replace(HOLLOW, wall_m=0.008)), tmp_path)
    (tmp_path / "ball.stl").unlink()
    again = apply_build(thick, cast_all(thick.build, HOLLOW), tmp_path)
    assert assess(again.skeleton, Pose("neutral"), again.build, again.site).mass_kg == mass
    assert [void.wall_m for void in again.skeleton.elements[0].voids] == [0.005, 0.008]
    assert document.skeleton.elements[0].voids == ()


def test_a_wall_that_leaves_no_void_is_refused_by_element_and_figure(
    document: SkeletonDocument, tmp_path: Path
) -> None:
    thick = apply_build(document, cast_all(document.build, replace(HOLLOW, wall_m=RADIUS)), tmp_path)
    with pytest.raises(SkeletonError, match=r"ball: thinner than two walls of 100 mm everywhere.*mind its unit"):
        refuse_wall(thick.skeleton.elements, thick.build)
    fine = apply_build(document, cast_all(document.build, HOLLOW), tmp_path)
    refuse_wall(fine.skeleton.elements, fine.build)


def test_a_file_that_has_changed_is_refused(document: SkeletonDocument, tmp_path: Path) -> None:
    trimesh.creation.icosphere(subdivisions=2, radius=90).export(tmp_path / "ball.stl")
    with pytest.raises(DocumentError, match=r"ball\.stl"):
        apply_build(document, cast_all(document.build, HOLLOW), tmp_path)


def test_solid_castings_ask_for_no_file(document: SkeletonDocument, tmp_path: Path) -> None:
    (tmp_path / "ball.stl").unlink()
    build = cast_all(document.build, Casting())
    assert apply_build(document, build, tmp_path).build == build


def test_cancelling_is_handed_on(document: SkeletonDocument, tmp_path: Path) -> None:
    def cancel(_doing: str, _share: float) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        apply_build(document, cast_all(document.build, HOLLOW), tmp_path, cancel)


def test_what_was_said_before_is_replaced() -> None:
    build: Build = default_build()
    thick = replace(HOLLOW, wall_m=0.008)
    build = cast_series(cast_series(cast_series(build, "ribs", HOLLOW), "skull", HOLLOW), "ribs", thick)
    assert {own.series: own.casting for own in build.series_castings} == {"skull": HOLLOW, "ribs": thick}
    build = cast_element(cast_element(build, "a", HOLLOW), "a", thick)
    assert [own.casting for own in build.element_castings] == [thick]
    build = note_weighings(build, [Weighing("a", 1.0, 0.1, ""), Weighing("b", 2.0, 0.1, "")])
    build = note_weighings(build, [Weighing("a", 3.0, 0.1, "again")])
    assert [(own.element, own.mass_kg) for own in build.weighings] == [("a", 3.0), ("b", 2.0)]


def test_voids_are_known_by_the_content_of_the_file(document: SkeletonDocument, tmp_path: Path, monkeypatch) -> None:
    """Measured once for a file's bytes: taken over where they are the same, else not; never measured a second time."""
    build = cast_all(document.build, HOLLOW)
    cast = apply_build(document, build, tmp_path)
    monkeypatch.setattr(castings, "measure_voids", lambda *_: pytest.fail("measured again"))
    again = apply_build(cast, build, tmp_path)
    assert again.skeleton.elements[0].voids == cast.skeleton.elements[0].voids
    taken = take_voids(document, cast).skeleton.elements[0].voids
    assert taken == cast.skeleton.elements[0].voids
    assert take_voids(cast, cast).skeleton.elements[0].voids == taken
    element = document.skeleton.elements[0]
    other = replace(element, source=replace(element.source, sha256="f" * 64))
    changed = replace(document, skeleton=replace(document.skeleton, elements=(other,)))
    assert take_voids(changed, cast).skeleton.elements[0].voids == ()
