"""A joint to be looked for, as plain values that say all that the search depends on; and the search itself."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from ..articulation.column import ColumnAxes
from ..articulation.column_joint import make_column_joint
from ..articulation.frames import JointFrame
from ..articulation.limb_joint import find_limb_joint
from ..articulation.marked_column import find_marked_facets, tell_kind
from ..articulation.marked_facets import find_marked_joint, read_faces, take_marked, write_faces
from ..articulation.neck_joint import find_axial_joint
from ..articulation.partner import CELLS_A_SIZE, LIMB_CELLS_A_SIZE, Partner, prepare_partner
from ..articulation.patches import Index
from ..articulation.rib_joint import find_rib_joint
from ..mesh.element_surface import read_element
from ..mesh.reading import find_mesh_file, hash_file, read_surface
from ..mesh.surface import Surface
from ..skeleton.discs import settle_joint
from ..skeleton.element import Element, Side
from ..skeleton.joint import DiscThickness, FacetKind, FacetMark, Joint, JointFamily, LimitSettings
from ..spatial.errors import MeshFileError
from ..spatial.progress import Progress, ignore_progress, part_of
from ..spatial.transforms import Array, apply

Way = Literal["column", "limb", "rib", "marked"]
"""How a joint is looked for."""
Rows = tuple[tuple[float, ...], ...]

_KEPT = 4
"""Elements kept ready: the next joint is mostly that of a neighbour."""
_READY = 0.5
"""Share of a search that making its elements ready takes."""


@dataclass(frozen=True)
class SearchedEnd:
    """An element as the partner of a joint.

    file, body, unit_m, sha256 : where its surface is read, and what that file must be
    X_WE : its place, row by row
    volume_m3, centre_m : of its solid, in the world
    smallest_m : size of its smallest partner; cells_a_size : nodes of its distance grid a size
    """

    name: str
    file: str
    body: int | None
    unit_m: float
    sha256: str
    X_WE: Rows
    volume_m3: float
    centre_m: tuple[float, ...]
    smallest_m: float
    cells_a_size: float


@dataclass(frozen=True)
class JointSearch:
    """All that a joint's facets, limits and envelope follow from.

    side : of the child; headward : whether it lies towards the head of its parent, in the column
    axes : of the column at the joint, to head, left and back; empty elsewhere
    X_WJ, senses : of the frame that the user has given it; empty: the one that its surfaces tell
    marks : the facets that the user marked; family : of the joint, where the user says it
    disc_m : how thick its disc is to be, for which the child is moved; None: as the gap is where the elements stand
    """

    parent: SearchedEnd
    child: SearchedEnd
    way: Way
    settings: LimitSettings
    side: Side
    headward: bool = False
    axes: Rows = ()
    X_WJ: Rows = ()
    senses: tuple[int, ...] = ()
    disc_m: float | None = None
    marks: tuple[FacetMark, ...] = ()
    family: JointFamily | None = None


def describe_end(element: Element, smallest_m: float, as_limb: bool = False) -> SearchedEnd:
    """An element as a partner; smallest_m : size of its smallest partner; as_limb : though its series is another."""
    source, solid = element.source, element.solid
    centre = apply(element.X_WE, solid.centre_m[None, :])[0]
    cells = LIMB_CELLS_A_SIZE if as_limb or element.series == "limb" else CELLS_A_SIZE
    return SearchedEnd(
        element.name, source.file, source.body, source.unit_m, source.sha256, list_rows(element.X_WE),
        float(solid.volume_m3), tuple(centre.tolist()), smallest_m, cells,
    )  # fmt: skip


def list_rows(array: Array) -> Rows:
    """An array (n, m) as plain values."""
    return tuple(tuple(row) for row in np.asarray(array, float).tolist())


def list_axes(axes: ColumnAxes) -> Rows:
    """Axes of the column as plain values."""
    return list_rows(np.stack([axes.head, axes.left, axes.back]))


def search_joint(
    search: JointSearch,
    mesh_folder: Path,
    progress: Progress = ignore_progress,
    ready: dict[SearchedEnd, Partner] | None = None,
) -> Joint:
    """Look for a joint. Its places are to a picometre; its disc's shift, where it has one, in the world's axes.

    Parameters
    ----------
    ready : elements made ready for earlier searches; those of this one are added, and some dropped

    Raises
    ------
    MeshFileError : a file cannot be read, or is no longer what it was
    SkeletonError : no disc can be so thick there; faces that are marked are not there
    """
    ready = {} if ready is None else ready
    progress(f"reading {search.parent.name} and {search.child.name}", 0.0)
    parent = _take_ready(search.parent, mesh_folder, ready)
    progress(f"reading {search.child.name}", _READY / 2)
    child = _take_ready(search.child, mesh_folder, ready)
    within = part_of(progress, _READY, 1.0)
    within(f"joint of {search.child.name}", 0.0)
    placed = JointFrame(np.array(search.X_WJ), _three(search.senses), "by hand") if search.X_WJ else None
    if search.way == "marked":
        found = _find_marked(search, mesh_folder, parent, child, placed, within)
    elif search.marks:
        found = _find_marked_column(search, mesh_folder, parent, child, placed, within)
    else:
        found = _find(search, parent, child, placed, within)
    return settle_joint(found, placed is not None)


def _find(search: JointSearch, parent: Partner, child: Partner, placed: JointFrame | None, progress: Progress) -> Joint:
    if search.way == "limb":
        return find_limb_joint(parent, child, search.side, search.settings, placed, progress)
    if search.way == "rib":
        return find_rib_joint(parent, child, search.side, search.settings, placed)
    given = search.headward, search.settings, placed, _take_disc(search), progress
    return find_axial_joint(parent, child, _take_axes(search), *given)


def _take_axes(search: JointSearch) -> ColumnAxes:
    return ColumnAxes(*(np.array(row) for row in search.axes))


def _take_disc(search: JointSearch) -> DiscThickness | None:
    return None if search.disc_m is None else DiscThickness(search.disc_m, np.zeros(3), "")


def _find_marked(
    search: JointSearch,
    mesh_folder: Path,
    parent: Partner,
    child: Partner,
    placed: JointFrame | None,
    progress: Progress,
) -> Joint:
    marked = {
        mark.element: _take_mark(mark, *_take_end(search, mark, parent, child), mesh_folder) for mark in search.marks
    }
    given = (search.family, search.side, search.settings, placed, progress)
    return replace(find_marked_joint(parent, child, marked, *given), marks=search.marks)


def _find_marked_column(
    search: JointSearch,
    mesh_folder: Path,
    parent: Partner,
    child: Partner,
    placed: JointFrame | None,
    progress: Progress,
) -> Joint:
    """From marks of the column: those of no kind get the one that their place tells; the later of one facet counts."""
    axes = _take_axes(search)
    marked: dict[str, dict[FacetKind, Index]] = {parent.name: {}, child.name: {}}
    marks: dict[tuple[str, FacetKind], FacetMark] = {}
    for mark in search.marks:
        end, bone = _take_end(search, mark, parent, child)
        index = _take_mark(mark, end, bone, mesh_folder)
        kind = tell_kind(bone, index, axes) if mark.kind == "articular surface" else mark.kind
        faces = write_faces(read_faces(mark.faces, f"facet of {mark.element}"))
        marked[mark.element][kind], marks[mark.element, kind] = index, FacetMark(mark.element, faces, kind)
    facets = find_marked_facets(*((child, parent) if search.headward else (parent, child)), axes, marked)
    given = search.headward, search.settings, placed, _take_disc(search), progress
    return replace(make_column_joint(parent, child, facets, axes, *given), marks=tuple(marks.values()))


def _take_end(search: JointSearch, mark: FacetMark, parent: Partner, child: Partner) -> tuple[SearchedEnd, Partner]:
    return (search.parent, parent) if mark.element == parent.name else (search.child, child)


def _take_mark(mark: FacetMark, end: SearchedEnd, bone: Partner, mesh_folder: Path) -> Index:
    """Samples under a mark: its faces are numbered as the file is written."""
    raw = read_surface(find_mesh_file(mesh_folder, end.file), end.unit_m)
    faces = read_faces(mark.faces, f"facet of {mark.element}")
    return take_marked(bone.samples, _place(end, raw), faces, mark.element)


def _three(senses: tuple[int, ...]) -> tuple[int, int, int]:
    flexion, lateral, axial = senses
    return flexion, lateral, axial


def _take_ready(end: SearchedEnd, mesh_folder: Path, ready: dict[SearchedEnd, Partner]) -> Partner:
    partner = ready.pop(end, None) or _make_ready(end, mesh_folder)
    ready[end] = partner  # the last of them: dropped last
    while len(ready) > _KEPT:
        del ready[next(iter(ready))]
    return partner


def _make_ready(end: SearchedEnd, mesh_folder: Path) -> Partner:
    if hash_file(find_mesh_file(mesh_folder, end.file)) != end.sha256:
        raise MeshFileError(end.file, "it has changed since it was surveyed", "survey the folder again")
    surface = read_element(mesh_folder, end.file, end.body, end.unit_m)
    placed, centre = _place(end, surface), np.array(end.centre_m)
    return prepare_partner(end.name, placed, end.volume_m3, centre, end.smallest_m, end.cells_a_size)


def _place(end: SearchedEnd, surface: Surface) -> Surface:
    return Surface(apply(np.array(end.X_WE), surface.vertices), surface.faces)
