"""What `counterpoise assess` does."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from ..build.build import Casting, Material
from ..document.document import SkeletonDocument
from ..document.editing import find_pose
from ..document.meshes import check_meshes, locate_mesh_folder
from ..document.reading import read_document
from ..handover.tables import plain_value
from ..skeleton.kinematics import place_elements
from ..skeleton.pose import Pose
from ..spatial.errors import CounterpoiseError
from ..spatial.progress import Progress, part_of
from ..studies.acting import list_acting, read_outlines
from ..studies.assess import assess_prepared
from ..studies.castings import apply_build
from ..studies.clearance import find_clearance, prepare_clearance
from ..studies.prepared import prepare
from .assessment_text import CAUTION, show_assessment, show_material
from .terminal import Terminal

_CHECKING = 0.5
"""Share of the work that comparing the mesh files takes, where it is asked for."""


@dataclass(frozen=True)
class Trial:
    """What is assessed instead of what the document says, without writing it; None: as it says.

    with_clearance : whether the elements are held against each other
    """

    material: Material | None
    casting: Casting | None
    with_clearance: bool = False
    clearance_share_s: float | None = None


def run_assess(
    terminal: Terminal, document_path: Path, pose_names: tuple[str, ...], with_meshes: bool, trial: Trial
) -> bool:
    """Show the figures of poses; whether no check fails and no mesh file that was looked at is changed or missing."""
    document = read_document(document_path)
    poses = _choose_poses(document, pose_names)
    assessments, meshes = [], []
    with terminal.show_progress() as progress:
        if with_meshes:
            meshes = check_meshes(document, document_path, lambda doing, share: progress(doing, _CHECKING * share))
        start = _CHECKING if with_meshes else 0.0
        document = _try_build(document, document_path, trial, progress)
        clearance = None
        if trial.with_clearance:
            folder = locate_mesh_folder(document, document_path)
            clearance = prepare_clearance(document.skeleton, folder, None, part_of(progress, start, 0.9))
            start = 0.9
        outlines = read_outlines(document, document_path, part_of(progress, start, 0.5 + start / 2))
        start = start if outlines is None else 0.5 + start / 2
        prepared = prepare(document.skeleton, document.build)
        for i, pose in enumerate(poses):
            progress(f"assessing {pose.name}", start + (1 - start) * i / len(poses))
            hits = None if clearance is None else find_clearance(clearance, pose, document.site)
            acting = list_acting(document.skeleton, place_elements(document.skeleton, pose), document.site, outlines)
            assessments.append(assess_prepared(prepared, pose, document.site, hits, acting, with_worst=True))
    show_material(terminal, document)
    for assessment in assessments:
        show_assessment(terminal, document, assessment)
    apart = [check for check in meshes if check.state != "as recorded"]
    if with_meshes:
        terminal.show_line(f"{len(meshes)} mesh files, {len(apart)} missing or changed")
    for check in apart:
        terminal.show_line(f"  {check}")
    terminal.show_line(CAUTION)
    result = {"document": str(document_path), "caution": CAUTION, "assessments": plain_value(assessments)}
    terminal.show_result(result | ({"meshes": plain_value(meshes)} if with_meshes else {}))
    return not apart and all(check.state != "fails" for found in assessments for check in found.checks)


def _try_build(document: SkeletonDocument, path: Path, trial: Trial, progress: Progress) -> SkeletonDocument:
    build = document.build
    if trial.clearance_share_s is not None:
        if not trial.with_clearance:
            raise CounterpoiseError("clearance", "what it allows is given without it", "give --clearance too")
        document = replace(document, site=replace(document.site, clearance_share_s=trial.clearance_share_s))
    if trial.material is not None:
        build = replace(build, material=trial.material)
    if trial.casting is not None:
        build = replace(build, casting=trial.casting, series_castings=(), element_castings=())
    return apply_build(document, build, locate_mesh_folder(document, path), progress)


def _choose_poses(document: SkeletonDocument, names: tuple[str, ...]) -> list[Pose]:
    """The poses of these names, each once, or all; the neutral articulation where the document holds none."""
    if names:
        return [find_pose(document, name) for name in dict.fromkeys(names)]
    return list(document.poses) or [Pose("neutral")]
