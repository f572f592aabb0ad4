"""From an element table and its mesh files to a skeleton: joints of column and limbs from facets, the others fixed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ..articulation.column import ColumnAxes, column_axes
from ..articulation.column_joint import ASKS_FOR_HAND, LOOSE, attach_fixed
from ..articulation.feet import find_extreme_points, propose_feet
from ..build.build import Build
from ..mesh.element_surface import read_element
from ..mesh.reading import UNITS_M
from ..mesh.records import Survey
from ..mesh.samples import sample_surface
from ..mesh.surface import Surface
from ..skeleton.discs import settle_joint
from ..skeleton.element import Element, Source
from ..skeleton.joint import Joint, LimitSettings
from ..skeleton.table import TableRow
from ..skeleton.table_check import check_table
from ..skeleton.tree import LeftOut, Skeleton, build_skeleton
from ..spatial.errors import MeshFileError
from ..spatial.progress import Progress, ignore_progress, part_of
from ..spatial.transforms import Array
from .castings import add_void
from .joint_cache import JointCache
from .joint_search import JointSearch, SearchedEnd, describe_end, list_axes
from .joint_workers import begin_searches
from .unlikely_sizes import list_unlikely

_CUT_POINTS = 3000
_READING = 0.1
"""Share of the work that reading the elements takes, while the search for the joints has begun."""
LIMB_SEARCH_RAD = float(np.radians(150))
"""Limbs turn farther than a column: so far their limits are searched for."""
_JOINTED = ("column", "limb")
SERIES_FROM_HEAD = ("skull", "cervical", "dorsal", "sacral", "caudal")


@dataclass(frozen=True, eq=False)
class _Piece:
    """What is kept of an element once its full-resolution surface has been let go."""

    element: Element
    points: Array
    extremes: Array


def articulate(
    rows: Sequence[TableRow],
    survey: Survey,
    mesh_folder: Path,
    name: str,
    settings: LimitSettings | None = None,
    progress: Progress = ignore_progress,
    build: Build | None = None,
    limb_search_rad: float = LIMB_SEARCH_RAD,
    cache: JointCache | None = None,
    workers: int | None = None,
    loose: bool = False,
) -> Skeleton:
    """Make the skeleton that an element table describes.

    Elements are read file by file, one at full resolution in memory at a time, and joints looked for meanwhile, as
    many at once as there are cores. Where the elements lie in the files is taken as the neutral articulation. Rows
    of attachment `column` or `limb` get a joint with facets and limits, or are fixed with the reason why none was
    found; every other row is fixed with the table's reason, and follows a second element too where the table names one.
    Feet are proposed.

    Parameters
    ----------
    survey : of the same folder
    settings : of the limits; the defaults where None
    limb_search_rad : how far limits are searched for in the limbs, where the settings' own range is the column's
    progress : told often; may raise Cancelled
    build : how it is to be cast: the voids of hollow castings are measured while the surfaces are at hand
    cache : joints found before, which are taken from there; those found now are added
    workers : how many joints are looked for at once; as many as there are cores where None
    loose : the elements of the column stand anywhere: its joints are not looked for, but wait for the assembly

    Raises
    ------
    TableError : the table does not fit the files or itself
    MeshFileError : a file cannot be read, or an element's surface is empty
    """
    check_table(rows, survey)
    settings = settings or LimitSettings()
    kept = {row.element: row for row in rows if row.attachment != "left out"}
    elements = {name: _make_element(row, survey) for name, row in kept.items()}
    searches = _list_searches(kept, elements, settings, replace(settings, search_rad=limb_search_rad), loose)
    with begin_searches(searches, mesh_folder, cache, workers) as finish:
        pieces = _read_pieces(kept, elements, mesh_folder, part_of(progress, 0, _READING), build)
        found = finish(part_of(progress, _READING, 1))
    joints = tuple(found.get(child) or _fix_joint(kept[child], pieces, settings, loose) for child in _tree_order(kept))
    ready = tuple(piece.element for piece in pieces.values())
    progress("looking for the feet", 1.0)
    feet = propose_feet(ready, joints, {name: piece.extremes for name, piece in pieces.items()})
    left_out = tuple(LeftOut(row.file, row.body, row.reason) for row in rows if row.attachment == "left out")
    return build_skeleton(name, ready, joints, feet, left_out)


def describe_joints(skeleton: Skeleton) -> tuple[str, ...]:
    """Plain sentences on what `articulate` found: joints by confidence, those to look at, unlikely sizes, the feet."""
    moving = [joint for joint in skeleton.joints if joint.moves]
    fixed = len(skeleton.joints) - len(moving)
    following = sum(joint.also is not None for joint in skeleton.joints)
    notes = [f"{len(moving)} joints turn, {fixed} are fixed."]
    if following:
        one = "1 of those fixed follows two elements, half and half."
        notes.append(one if following == 1 else f"{following} of those fixed follow two elements, half and half.")
    notes += [
        f"{joint.parent} to {joint.child}: {joint.confidence}, {'turns' if joint.moves else 'fixed'}: {joint.reason}."
        for joint in skeleton.joints
        if joint.confidence == "ambiguous" or (not joint.moves and joint.reason.endswith(ASKS_FOR_HAND))
    ]
    notes += list_unlikely(skeleton)
    waiting = [joint for joint in skeleton.joints if joint.reason.endswith(LOOSE)]
    if waiting:
        notes.append(
            f"{len(waiting)} joints of the column wait for the assembly: mark their facets on both elements, or take "
            "them from an earlier document, and put the column together."
        )
    if skeleton.feet:
        notes.append(f"Stands on: {', '.join(foot.name for foot in skeleton.feet)}.")
    else:
        notes.append("No limb reaches the ground: say what the skeleton stands on before balance is asked for.")
    return tuple(notes)


def _make_element(row: TableRow, survey: Survey) -> Element:
    record = survey.find(row.file, row.body)
    if record is None:  # check_table has looked; a survey of another folder may still end here
        raise MeshFileError(row.file, "the survey does not know it", "survey the folder again")
    sha256 = next(file.sha256 for file in survey.files if file.file == row.file)
    source = Source(row.file, row.body, UNITS_M[row.unit], sha256)
    mark = survey.find_mark(row.file)
    made_from = mark.made_from if mark else ""
    given = (row.element, row.series, row.position, row.side, row.origin, source, record.solid, np.eye(4))
    return Element(*given, made_from=made_from)


def _list_searches(
    rows: Mapping[str, TableRow],
    elements: Mapping[str, Element],
    settings: LimitSettings,
    limb_settings: LimitSettings,
    loose: bool,
) -> list[JointSearch]:
    """The joints to look for: those of column (unless it is loose) and limbs whose elements enclose a volume."""
    ends = _list_ends(rows, elements)
    searches: list[JointSearch] = []
    axes: dict[str, ColumnAxes] = {}
    for child in _tree_order(rows):
        row = rows[child]
        if row.attachment not in _JOINTED or row.parent not in ends or child not in ends:
            continue
        if row.attachment == "limb":
            searches.append(JointSearch(ends[row.parent], ends[child], "limb", limb_settings, row.side))
            continue
        if loose:
            continue
        headward = lies_headward(elements[child], elements[row.parent])
        ahead, behind = (child, row.parent) if headward else (row.parent, child)
        centres = elements[ahead].solid.centre_m, elements[behind].solid.centre_m
        axes[child] = column_axes(*centres, axes.get(row.parent))
        directions = list_axes(axes[child])
        searches.append(JointSearch(ends[row.parent], ends[child], "column", settings, row.side, headward, directions))
    return searches


def _list_ends(rows: Mapping[str, TableRow], elements: Mapping[str, Element]) -> dict[str, SearchedEnd]:
    """The elements that a joint can be looked for: they and all their partners enclose a volume."""
    volumes = {name: element.solid.volume_m3 for name, element in elements.items()}
    neighbours: dict[str, list[str]] = {}
    for row in rows.values():
        if row.attachment in _JOINTED:
            neighbours.setdefault(row.element, []).append(row.parent)
            neighbours.setdefault(row.parent, []).append(row.element)
    smallest = {name: min(volumes[other] for other in others) for name, others in neighbours.items()}
    return {
        name: describe_end(elements[name], float(np.cbrt(least)))
        for name, least in smallest.items()
        if min(least, volumes[name]) > 0
    }


def _read_pieces(
    rows: Mapping[str, TableRow],
    elements: Mapping[str, Element],
    mesh_folder: Path,
    progress: Progress,
    build: Build | None,
) -> dict[str, _Piece]:
    read: dict[str, _Piece] = {}
    for i, row in enumerate(sorted(rows.values(), key=lambda row: (row.file, row.body or 0))):
        progress(f"reading {row.element}", i / len(rows))
        # no name is kept for the surface, so that it is gone before the next one is read
        read[row.element] = _keep_of(
            row, elements[row.element], read_element(mesh_folder, row.file, row.body, UNITS_M[row.unit]), build
        )
    return {name: read[name] for name in rows}


def _keep_of(row: TableRow, element: Element, surface: Surface, build: Build | None) -> _Piece:
    if not len(surface.faces):
        raise MeshFileError(row.file, f"{row.element} has no surface", "leave it out in the table, or mend the file")
    points = sample_surface(surface, np.inf, _CUT_POINTS, _CUT_POINTS).points
    if build is not None:
        element = add_void(element, surface, build)
    return _Piece(element, points, find_extreme_points(surface.vertices))


def _fix_joint(row: TableRow, pieces: Mapping[str, _Piece], settings: LimitSettings, loose: bool) -> Joint:
    """The joint of an element that none was looked for."""
    points = pieces[row.parent].points, pieces[row.element].points
    if loose and row.attachment == "column":
        waits = attach_fixed(row.parent, row.element, *points, f"its elements stand anywhere{LOOSE}")
        return replace(settle_joint(waits), settings=settings)
    if row.attachment in _JOINTED:
        reason = f"it or its parent encloses no volume, so that no facets were looked for{ASKS_FOR_HAND}"
        return settle_joint(attach_fixed(row.parent, row.element, *points, reason))
    fixed = settle_joint(attach_fixed(row.parent, row.element, *points, row.reason))
    return replace(fixed, also=row.also or None, also_in_table=row.also or None)


def _tree_order(rows: Mapping[str, TableRow]) -> list[str]:
    """Every element but the root, each after its parent."""
    children: dict[str, list[str]] = {}
    for name, row in rows.items():
        children.setdefault(row.parent if row.attachment != "root" else "", []).append(name)
    order: list[str] = []
    waiting = list(children.get("", []))
    while waiting:
        name = waiting.pop()
        order.append(name)
        waiting.extend(reversed(children.get(name, [])))
    return order[1:]


def lies_headward(child: Element, parent: Element) -> bool:
    """Whether a child in the column lies towards the head of its parent: by series and position, else by place."""
    ranks = []
    for element in (child, parent):
        if element.series not in SERIES_FROM_HEAD:
            return bool(child.solid.centre_m[0] > parent.solid.centre_m[0])
        ranks.append((SERIES_FROM_HEAD.index(element.series), element.position or 0))
    if ranks[0] == ranks[1]:
        return bool(child.solid.centre_m[0] > parent.solid.centre_m[0])
    return ranks[0] < ranks[1]
