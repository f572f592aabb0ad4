"""From an element table and its mesh files to a skeleton: joints of column and limbs from facets, the others fixed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ..articulation.column import ColumnAxes, column_axes
from ..articulation.column_joint import ASKS_FOR_HAND, attach_fixed
from ..articulation.feet import find_extreme_points, propose_feet
from ..articulation.limb_joint import find_limb_joint
from ..articulation.neck_joint import find_axial_joint
from ..articulation.partner import CELLS_A_SIZE, LIMB_CELLS_A_SIZE, Partner, prepare_partner
from ..build.build import Build
from ..mesh.element_surface import read_element
from ..mesh.reading import UNITS_M
from ..mesh.records import Survey
from ..mesh.samples import sample_surface
from ..mesh.solid import Solid
from ..mesh.surface import Surface
from ..skeleton.element import Element, Source
from ..skeleton.joint import Joint, LimitSettings
from ..skeleton.table import TableRow
from ..skeleton.table_check import check_table
from ..skeleton.tree import LeftOut, Skeleton, build_skeleton
from ..spatial.errors import MeshFileError
from ..spatial.progress import Progress, ignore_progress, part_of
from ..spatial.transforms import Array
from .castings import add_void

_CUT_POINTS = 3000
_READING = 0.55
"""Share of the work that reading and preparing the elements takes."""
LIMB_SEARCH_RAD = float(np.radians(150))
"""Limbs turn farther than a column: so far their limits are searched for."""
_JOINTED = ("column", "limb")
SERIES_FROM_HEAD = ("skull", "cervical", "dorsal", "sacral", "caudal")


@dataclass(frozen=True, eq=False)
class _Piece:
    """What is kept of an element once its full-resolution surface has been let go."""

    row: TableRow
    element: Element
    points: Array
    extremes: Array
    partner: Partner | None


def articulate(
    rows: Sequence[TableRow],
    survey: Survey,
    mesh_folder: Path,
    name: str,
    settings: LimitSettings | None = None,
    progress: Progress = ignore_progress,
    build: Build | None = None,
    limb_search_rad: float = LIMB_SEARCH_RAD,
) -> Skeleton:
    """Make the skeleton that an element table describes.

    Elements are read file by file, one at full resolution in memory at a time; samples and distance grids are kept
    of those that a joint is looked for. Where the elements lie in the files is taken as the neutral articulation. Rows
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

    Raises
    ------
    TableError : the table does not fit the files or itself
    MeshFileError : a file cannot be read, or an element's surface is empty
    """
    check_table(rows, survey)
    pieces = _read_pieces(rows, survey, mesh_folder, progress, build)
    settings = settings or LimitSettings()
    joints = _make_joints(pieces, settings, replace(settings, search_rad=limb_search_rad), progress)
    elements = tuple(piece.element for piece in pieces.values())
    progress("looking for the feet", 1.0)
    feet = propose_feet(elements, joints, {name: piece.extremes for name, piece in pieces.items()})
    left_out = tuple(LeftOut(row.file, row.body, row.reason) for row in rows if row.attachment == "left out")
    return build_skeleton(name, elements, joints, feet, left_out)


def describe_joints(skeleton: Skeleton) -> tuple[str, ...]:
    """Plain sentences on what `articulate` found: joints by confidence, those to look at, and the feet."""
    moving = [joint for joint in skeleton.joints if joint.moves]
    fixed = len(skeleton.joints) - len(moving)
    following = sum(joint.also is not None for joint in skeleton.joints)
    notes = [f"{len(moving)} joints turn, {fixed} are fixed."]
    if following:
        notes.append(
            f"{following} of those fixed {'follow' if following > 1 else 'follows'} two elements, half and half."
        )
    notes += [
        f"{joint.parent} to {joint.child}: {joint.confidence}, {'turns' if joint.moves else 'fixed'}: {joint.reason}."
        for joint in skeleton.joints
        if joint.confidence == "ambiguous" or (not joint.moves and joint.reason.endswith(ASKS_FOR_HAND))
    ]
    if skeleton.feet:
        notes.append(f"Stands on: {', '.join(foot.name for foot in skeleton.feet)}.")
    else:
        notes.append("No limb reaches the ground: say what the skeleton stands on before balance is asked for.")
    return tuple(notes)


def _read_pieces(
    rows: Sequence[TableRow], survey: Survey, mesh_folder: Path, progress: Progress, build: Build | None
) -> dict[str, _Piece]:
    kept = [row for row in rows if row.attachment != "left out"]
    solids = {row.element: _find_solid(survey, row) for row in kept}
    hashes = {record.file: record.sha256 for record in survey.files}
    neighbours: dict[str, list[str]] = {}
    for row in kept:
        if row.attachment in _JOINTED:
            neighbours.setdefault(row.element, []).append(row.parent)
            neighbours.setdefault(row.parent, []).append(row.element)
    read: dict[str, _Piece] = {}
    for i, row in enumerate(sorted(kept, key=lambda row: (row.file, row.body or 0))):
        progress(f"reading {row.element}", _READING * i / len(kept))
        unit_m = UNITS_M[row.unit]
        solid = solids[row.element]
        sizes = [float(np.cbrt(max(solids[other].volume_m3, 0.0))) for other in neighbours.get(row.element, [])]
        source = Source(row.file, row.body, unit_m, hashes[row.file])
        element = Element(row.element, row.series, row.position, row.side, row.origin, source, solid, np.eye(4))
        # no name is kept for the surface, so that it is gone before the next one is read
        read[row.element] = _keep_of(row, element, read_element(mesh_folder, row.file, row.body, unit_m), sizes, build)
    return {row.element: read[row.element] for row in kept}


def _find_solid(survey: Survey, row: TableRow) -> Solid:
    record = survey.find(row.file, row.body)
    if record is None:  # check_table has looked; a survey of another folder may still end here
        raise MeshFileError(row.file, "the survey does not know it", "survey the folder again")
    return record.solid


def _keep_of(row: TableRow, element: Element, surface: Surface, sizes: Sequence[float], build: Build | None) -> _Piece:
    if not len(surface.faces):
        raise MeshFileError(row.file, f"{row.element} has no surface", "leave it out in the table, or mend the file")
    solid = element.solid
    points = sample_surface(surface, np.inf, _CUT_POINTS, _CUT_POINTS).points
    cells = LIMB_CELLS_A_SIZE if element.series == "limb" else CELLS_A_SIZE
    partner = None
    if sizes and solid.volume_m3 > 0 and min(sizes) > 0:
        partner = prepare_partner(row.element, surface, solid.volume_m3, solid.centre_m, min(sizes), cells)
    if build is not None:
        element = add_void(element, surface, build)
    return _Piece(row, element, points, find_extreme_points(surface.vertices), partner)


def _make_joints(
    pieces: dict[str, _Piece], settings: LimitSettings, limb_settings: LimitSettings, progress: Progress
) -> tuple[Joint, ...]:
    joints: list[Joint] = []
    axes: dict[str, ColumnAxes] = {}
    order = _tree_order(pieces)
    for i, child in enumerate(order):
        within = part_of(progress, *(_READING + (1 - _READING) * (i + k) / len(order) for k in (0, 1)))
        within(f"joint of {child}", 0.0)
        row, piece = pieces[child].row, pieces[child]
        parent = pieces[row.parent]
        if row.attachment not in _JOINTED:
            fixed = attach_fixed(row.parent, child, parent.points, piece.points, row.reason)
            joints.append(replace(fixed, also=row.also or None, also_in_table=row.also or None))
        elif parent.partner is None or piece.partner is None:
            reason = f"it or its parent encloses no volume, so that no facets were looked for{ASKS_FOR_HAND}"
            joints.append(attach_fixed(row.parent, child, parent.points, piece.points, reason))
        elif row.attachment == "limb":
            joints.append(find_limb_joint(parent.partner, piece.partner, row.side, limb_settings, progress=within))
        else:
            headward = lies_headward(piece.element, parent.element)
            ends = (piece, parent) if headward else (parent, piece)
            centres = [end.element.solid.centre_m for end in ends]
            axes[child] = column_axes(centres[0], centres[1], axes.get(row.parent))
            found = find_axial_joint(parent.partner, piece.partner, axes[child], headward, settings, progress=within)
            joints.append(found)
    return tuple(joints)


def _tree_order(pieces: dict[str, _Piece]) -> list[str]:
    """Every element but the root, each after its parent."""
    children: dict[str, list[str]] = {}
    for name, piece in pieces.items():
        children.setdefault(piece.row.parent if piece.row.attachment != "root" else "", []).append(name)
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
