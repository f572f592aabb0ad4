"""Changing how the elements are cast: what hollow castings leave hollow is measured on the full-resolution surfaces."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from ..build.build import Build, Casting, ElementCasting, SeriesCasting, Weighing
from ..build.castings import find_casting, find_void
from ..document.document import SkeletonDocument
from ..document.meshes import require_meshes
from ..mesh.element_surface import read_element
from ..mesh.solid import Void
from ..mesh.surface import Surface
from ..mesh.voids import measure_void
from ..skeleton.element import Element, Series
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress, ignore_progress
from .voids import measure_voids

_CHECKING = 0.1
"""Share of the work that comparing the mesh files with the document takes."""


def cast_all(build: Build, casting: Casting) -> Build:
    """The build with every element cast so, those of which more is said excepted."""
    return replace(build, casting=casting)


def cast_series(build: Build, series: Series, casting: Casting) -> Build:
    """The build with the elements of a series cast so, those named themselves excepted."""
    others = tuple(own for own in build.series_castings if own.series != series)
    return replace(build, series_castings=(*others, SeriesCasting(series, casting)))


def cast_element(build: Build, element: str, casting: Casting) -> Build:
    """The build with one element cast so."""
    others = tuple(own for own in build.element_castings if own.element != element)
    return replace(build, element_castings=(*others, ElementCasting(element, casting)))


def cast_as_rest(build: Build, series: Iterable[str] = (), elements: Iterable[str] = ()) -> Build:
    """The build with nothing said any more of these series and elements themselves."""
    return replace(
        build,
        series_castings=tuple(own for own in build.series_castings if own.series not in set(series)),
        element_castings=tuple(own for own in build.element_castings if own.element not in set(elements)),
    )


def note_weighings(build: Build, weighings: Iterable[Weighing]) -> Build:
    """The build with what was weighed in the place of earlier weighings of the same elements."""
    kept = {own.element: own for own in build.weighings} | {own.element: own for own in weighings}
    return replace(build, weighings=tuple(kept.values()))


def forget_weighings(build: Build, elements: Iterable[str]) -> Build:
    """The build without the weighings of these elements."""
    return replace(build, weighings=tuple(own for own in build.weighings if own.element not in set(elements)))


def lacks_void(element: Element, build: Build) -> bool:
    """Whether an element is to be cast hollow and the void behind its wall has not been measured."""
    casting = find_casting(build, element)
    return casting.kind == "hollow" and find_void(element, casting.wall_m) is None


def add_void(element: Element, surface: Surface, build: Build) -> Element:
    """The element with the void of its casting, where that is lacking; its surface is in its frame E."""
    if not lacks_void(element, build):
        return element
    return replace(element, voids=(*element.voids, measure_void(surface, find_casting(build, element).wall_m)))


def refuse_wall(elements: Iterable[Element], build: Build) -> None:
    """SkeletonError where the wall asked for leaves no void in any of the elements: nothing of them is hollow then."""
    voids = [(element, find_void(element, find_casting(build, element).wall_m)) for element in elements]
    if any(void is None or void.volume_m3 > 0 for _, void in voids):
        return
    where = voids[0][0].name if len(voids) == 1 else f"{len(voids)} elements"
    wall_mm = 1000 * find_casting(build, voids[0][0]).wall_m
    what = f"thinner than two walls of {wall_mm:.3g} mm everywhere, so that no void is left"
    raise SkeletonError(where, what, "give a thinner wall (mind its unit), or cast it solid")


def apply_build(
    document: SkeletonDocument, build: Build, mesh_folder: Path, progress: Progress = ignore_progress
) -> SkeletonDocument:
    """The document with another build, every void that it asks for measured; those measured before are kept.

    Raises
    ------
    DocumentError : a mesh file is needed, and is missing or no longer as the document records it
    MeshFileError : it cannot be read
    """
    skeleton = document.skeleton
    lacking = [element for element in skeleton.elements if lacks_void(element, build)]
    if lacking:
        require_meshes(document, mesh_folder, lambda doing, share: progress(doing, _CHECKING * share))
        voids = _measure_lacking(
            lacking, build, mesh_folder, lambda doing, share: progress(doing, _CHECKING + (1 - _CHECKING) * share)
        )
        elements = tuple(_keep_void(element, voids) for element in skeleton.elements)
        skeleton = replace(skeleton, elements=elements)
    return replace(document, skeleton=skeleton, build=build)


def _measure_lacking(lacking: list[Element], build: Build, mesh_folder: Path, progress: Progress) -> dict[str, Void]:
    """Bodies of one file come after one another, so that it is read once."""
    waiting = sorted(lacking, key=lambda own: (own.source.file, own.source.body or 0))
    return measure_voids((_read_casting(element, build, mesh_folder) for element in waiting), len(waiting), progress)


def _read_casting(element: Element, build: Build, mesh_folder: Path) -> tuple[str, Surface, float]:
    source = element.source
    surface = read_element(mesh_folder, source.file, source.body, source.unit_m)
    return element.name, surface, find_casting(build, element).wall_m


def _keep_void(element: Element, voids: dict[str, Void]) -> Element:
    return replace(element, voids=(*element.voids, voids[element.name])) if element.name in voids else element


def take_voids(document: SkeletonDocument, measured: SkeletonDocument) -> SkeletonDocument:
    """The document with the voids that another one has of the same surfaces: of files that are the same to the byte."""
    known = {(element.source, element.name): element.voids for element in measured.skeleton.elements}
    elements = []
    for element in document.skeleton.elements:
        own = {void.wall_m for void in element.voids}
        new = tuple(void for void in known.get((element.source, element.name), ()) if void.wall_m not in own)
        elements.append(replace(element, voids=(*element.voids, *new)))
    return replace(document, skeleton=replace(document.skeleton, elements=tuple(elements)))
