"""The hand-over: one folder with everything that leaves for other trades."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from .. import __version__
from ..document.document import SkeletonDocument
from ..document.editing import find_pose
from ..document.meshes import locate_mesh_folder
from ..document.reading import write_document
from ..skeleton.kinematics import place_elements
from ..skeleton.pose import Pose
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress, part_of
from ..spatial.transforms import Array, apply
from ..studies.acting import Outlines, list_acting, read_outlines
from ..studies.assess import assess_prepared, prepare
from ..studies.assessment import Assessment
from ..studies.clearance import PreparedClearance, find_clearance, prepare_clearance
from .comparison_report import LEAST, render_comparison
from .folders import check_replaceable, check_writable, replace_folder
from .glb import GlbGeometry, write_glb
from .manifest import MANIFEST, write_manifest
from .meshes import MeshTarget, WrittenMeshes, verify_sources, write_meshes
from .names import safe_file_names
from .outline import cell_size
from .pose_tables import compare_poses, list_pose_tables
from .range_set import write_range_files
from .readme_text import WholeMesh, describe_handover
from .report import Outline, render_report
from .tables import write_json, write_table

README, DOCUMENT, GEOMETRY, MESHES, RANGES = "README.txt", "skeleton.json", "geometry.part", "meshes", "ranges"
COMPARISON = "poses.html"
_TAKEN = (README, DOCUMENT, MANIFEST, GEOMETRY, RANGES, COMPARISON, "poses.csv", "poses.json")


@dataclass(frozen=True, eq=False)
class _Stage:
    """One pose on its way: its figures, its folder, and where it puts the elements."""

    pose: Pose
    assessment: Assessment
    folder: str
    X_WE: Array


def write_handover(
    document: SkeletonDocument,
    document_path: Path,
    folder: Path,
    pose_names: Sequence[str] | None,
    progress: Progress,
) -> Path:
    """Write the hand-over of some poses of a document into one folder.

    The folder appears whole or not at all. One that is there already is replaced only where it is empty, or a
    hand-over with nothing added or changed.

    Parameters
    ----------
    document_path : where the document is kept: its mesh folder is relative to it
    pose_names : of the document's poses; None: all but those as mounted, which nobody is to cast; the range report
        compares them all the same
    progress : may raise Cancelled: nothing is left behind then

    Returns
    -------
    The folder.

    Raises
    ------
    DocumentError : a mesh file is missing or changed since the document was written
    SkeletonError : there is no such pose, or none at all
    OutputError : the folder may not be replaced, or cannot be written
    """
    check_replaceable(folder)
    check_writable(folder)
    poses = _choose_poses(document, pose_names)
    verify_sources(document, document_path, part_of(progress, 0.0, 0.1))
    clearance = prepare_clearance(
        document.skeleton, locate_mesh_folder(document, document_path), None, part_of(progress, 0.1, 0.25)
    )
    outlines = read_outlines(document, document_path, part_of(progress, 0.25, 0.28))
    stages = _assess_poses(document, poses, clearance, outlines, part_of(progress, 0.28, 0.3))
    with replace_folder(folder) as beside:
        _write_set(document, document_path, beside, stages, progress)
    return folder


def _choose_poses(document: SkeletonDocument, names: Sequence[str] | None) -> tuple[Pose, ...]:
    if names is None:
        names = [pose.name for pose in document.poses if not pose.mounted]
    wanted = list(dict.fromkeys(names))
    if not wanted:
        raise SkeletonError(document.skeleton.name, "there is no pose to hand over", "save a pose first, or name one")
    return tuple(find_pose(document, name) for name in wanted)


def _assess_poses(
    document: SkeletonDocument,
    poses: Sequence[Pose],
    clearance: PreparedClearance,
    outlines: Outlines | None,
    progress: Progress,
) -> tuple[_Stage, ...]:
    prepared = prepare(document.skeleton, document.build)
    folders = safe_file_names([pose.name for pose in poses], _TAKEN)
    stages = []
    for done, pose in enumerate(poses):
        progress(f"assessing {pose.name}", done / len(poses))
        hits = find_clearance(clearance, pose, document.site)
        X_WE = place_elements(document.skeleton, pose)
        acting = list_acting(document.skeleton, X_WE, document.site, outlines)
        found = assess_prepared(prepared, pose, document.site, hits, acting, with_worst=True)
        stages.append(_Stage(pose, found, folders[pose.name], X_WE))
    return tuple(stages)


def _write_set(
    document: SkeletonDocument, document_path: Path, root: Path, stages: Sequence[_Stage], progress: Progress
) -> None:
    """Write everything below an empty folder; the manifest last."""
    skeleton = document.skeleton
    made = datetime.now(UTC).replace(microsecond=0)
    files = safe_file_names([element.name for element in skeleton.elements], suffix="_mm.stl")
    targets = [MeshTarget(root / stage.folder / MESHES, stage.X_WE) for stage in stages]
    for target in targets:
        target.folder.mkdir(parents=True)
    geometry = GlbGeometry(root / GEOMETRY)
    meshes = write_meshes(document, document_path, files, targets, geometry, part_of(progress, 0.3, 0.8))
    whole = WholeMesh(geometry.triangles, meshes.triangles)
    for done, stage in enumerate(stages):
        progress(f"writing the report of {stage.pose.name}", 0.8 + 0.13 * done / len(stages))
        _write_pose(document, root / stage.folder, stage, files, geometry, meshes, made)
    geometry.path.unlink(missing_ok=True)
    folders = {stage.pose.name: stage.folder for stage in stages}
    write_table(root, compare_poses([stage.assessment for stage in stages], folders))
    if len(stages) >= LEAST:
        page = render_comparison(document, [stage.assessment for stage in stages], folders, made)
        (root / COMPARISON).write_text(page, encoding="utf-8", newline="\n")
    progress("writing the range report", 0.93)
    (root / RANGES).mkdir()
    shown = [stage.pose for stage in stages]
    before = [pose for pose in document.poses if pose.mounted and pose not in shown]
    write_range_files(document, [*shown, *before], root / RANGES, made)
    write_document(root / DOCUMENT, document)
    text = describe_handover(skeleton, list(folders.items()), DOCUMENT, whole, made)
    (root / README).write_text(text, encoding="utf-8", newline="\n")
    progress("writing the manifest", 0.95)
    write_manifest(root, _manifest_facts(document, folders, whole, made))
    progress("putting the folder in its place", 1.0)


def _write_pose(
    document: SkeletonDocument,
    folder: Path,
    stage: _Stage,
    files: dict[str, str],
    geometry: GlbGeometry,
    meshes: WrittenMeshes,
    made: datetime,
) -> None:
    """Write what belongs to one pose: GLB, tables, assessment, report."""
    skeleton = document.skeleton
    names = [element.name for element in skeleton.elements]
    write_glb(folder / "whole.glb", geometry, names, stage.X_WE, skeleton.name, f"Counterpoise {__version__}")
    paths = {name: f"{MESHES}/{file}" for name, file in files.items()}
    for table in list_pose_tables(skeleton, document.site, stage.assessment, paths):
        write_table(folder, table)
    # The worst of joints and beams stands in tables of its own.
    write_json(folder / "assessment.json", replace(stage.assessment, acted=None))
    placed = [apply(X, points) for X, points in zip(stage.X_WE, meshes.samples_E, strict=True)]
    outline = Outline(np.concatenate(placed), cell_size(skeleton))
    page = render_report(document, stage.pose, stage.assessment, outline, made)
    (folder / "report.html").write_text(page, encoding="utf-8", newline="\n")


def _manifest_facts(
    document: SkeletonDocument, folders: dict[str, str], whole: WholeMesh, made: datetime
) -> dict[str, Any]:
    return {
        "program": "Counterpoise",
        "program_version": __version__,
        "made_utc": made.isoformat().replace("+00:00", "Z"),
        "skeleton": document.skeleton.name,
        "elements": len(document.skeleton.elements),
        "poses": [{"pose": name, "folder": folder} for name, folder in folders.items()],
        "axes": "right-handed, z up, x towards the head, y to the animal's left",
        "meshes": {"format": "binary STL", "length_unit": "mm", "triangles": whole.full_triangles},
        "whole_glb": {
            "format": "binary glTF 2.0",
            "length_unit": "m",
            "up": "y",
            "triangles": whole.triangles,
            "simplified": whole.simplified,
        },
        "tables": "CSV (UTF-8, RFC 4180) and JSON; units in the column heads; 'not known' and null where not known",
    }
