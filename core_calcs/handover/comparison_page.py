"""Poses on one page by itself: pictures to one scale, notes, the table that compares them, bars; one file."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

from ..document.document import SkeletonDocument
from ..document.editing import find_pose
from ..document.meshes import list_missing, locate_mesh_folder
from ..mesh.surface import Surface
from ..skeleton.kinematics import place_elements
from ..skeleton.pose import Pose
from ..spatial.errors import OutputError, SkeletonError
from ..spatial.progress import Progress, part_of
from ..studies.acting import list_acting, read_outlines
from ..studies.assess import assess_prepared, prepare
from ..studies.assessment import Assessment
from ..studies.display import make_display_surfaces
from ..studies.pose_pictures import draw_to_scale, place_parts, prepare_pictures
from .comparison_report import render_comparison
from .png import make_address

WIDE = 520
"""Pixels across a picture: some 220 to the inch on paper."""

TRIANGLES = 3000
"""Of an element's display surface, where it is made from the files."""

MARK = '<meta name="generator" content="Counterpoise, poses compared">'
"""In every such page: by it one is known that may be written anew."""


def write_poses_page(
    document: SkeletonDocument, document_path: Path, page: Path, names: Sequence[str], progress: Progress
) -> tuple[Path, tuple[str, ...]]:
    """Write the page of some poses, all where none is named, from the document and its mesh files.

    Returns
    -------
    The page, and mesh files that are missing: their elements are left out of the pictures.

    Raises
    ------
    SkeletonError : there is no such pose, or none at all
    OutputError : the page is something else's file, or cannot be written
    """
    check_page(page)
    poses = choose_poses(document, names)
    folder = locate_mesh_folder(document, document_path)
    missing = list_missing(document, folder)
    there = [element for element in document.skeleton.elements if element.source.file not in missing]
    surfaces = make_display_surfaces(there, folder, TRIANGLES, part_of(progress, 0.0, 0.6))
    outlines = None if missing else read_outlines(document, document_path, part_of(progress, 0.6, 0.7))
    prepared = prepare(document.skeleton, document.build)
    found = []
    for pose in poses:
        X_WE = place_elements(document.skeleton, pose)
        acting = list_acting(document.skeleton, X_WE, document.site, outlines)
        found.append(assess_prepared(prepared, pose, document.site, None, acting))
    write_page(document, poses, found, surfaces, page, part_of(progress, 0.7, 1.0))
    return page, tuple(missing)


def choose_poses(document: SkeletonDocument, names: Sequence[str]) -> tuple[Pose, ...]:
    """The poses of these names, each once, or all; SkeletonError where one is not there, or the document has none."""
    if not names and not document.poses:
        raise SkeletonError(document.skeleton.name, "there is no pose to show", "save a pose first")
    return tuple(find_pose(document, name) for name in dict.fromkeys(names)) or document.poses


def write_page(
    document: SkeletonDocument,
    poses: Sequence[Pose],
    found: Sequence[Assessment],
    surfaces: Mapping[str, Surface],
    page: Path,
    progress: Progress,
) -> None:
    """Write the page of poses that are assessed. surfaces : by element, for the pictures

    Raises
    ------
    OutputError : the page is something else's file, or cannot be written
    """
    parts = prepare_pictures(surfaces)
    placed = []
    for i, pose in enumerate(poses):
        progress(f"picture of {pose.name}", 0.8 * i / len(poses))
        placed.append(place_parts(document.skeleton, parts, pose, document.site.ground_m))
    drawn = draw_to_scale(placed, WIDE) if len(parts.faces) else []
    pictures = dict(zip((pose.name for pose in poses), map(make_address, drawn), strict=False))
    progress("writing the page", 0.9)
    text = render_comparison(document, found, {}, datetime.now(UTC).replace(microsecond=0), pictures)
    _replace_page(page, text)


def check_page(page: Path) -> None:
    """Raise OutputError where the page would take the place of a file that is no such page."""
    if not page.parent.is_dir():
        raise OutputError(str(page), "its folder is not there", "make the folder, or choose another")
    try:
        other = page.is_dir() or (page.exists() and MARK.encode() not in page.read_bytes()[:2000])
    except OSError as error:
        raise OutputError(str(page), f"it cannot be read ({error})", "choose another name") from error
    if other:
        raise OutputError(str(page), "something else is there", "choose another name, or move it away")


def _replace_page(page: Path, text: str) -> None:
    check_page(page)
    beside = page.with_name(f".{page.name[:60]}.{secrets.token_hex(4)}.part")
    try:
        beside.write_text(text, encoding="utf-8", newline="\n")
        os.replace(beside, page)
    except OSError as error:
        raise OutputError(str(page), f"it could not be written ({error})", "make room, or choose another") from error
    finally:
        beside.unlink(missing_ok=True)
