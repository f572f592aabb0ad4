"""What the long steps calculate beside Blender: plain values in, plain values out. Blender is not imported here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..core_calcs.build.materials import default_build
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.meshes import list_missing, locate_mesh_folder, require_files, require_meshes
from ..core_calcs.document.reading import read_document
from ..core_calcs.document.record import Record
from ..core_calcs.site.site import Site
from ..core_calcs.skeleton.element import Element
from ..core_calcs.skeleton.pose import AS_SCANNED, Pose
from ..core_calcs.skeleton.proposal import propose_table
from ..core_calcs.skeleton.table import TableRow, hash_table, read_table
from ..core_calcs.skeleton.tree import Skeleton
from ..core_calcs.skeleton.verdict import Verdict
from ..core_calcs.spatial.progress import Progress, part_of
from ..core_calcs.studies.acting import Outlines, Shown, measure_poses, prepare_outlines
from ..core_calcs.studies.articulate import articulate
from ..core_calcs.studies.assembly import Assembly, assemble_document
from ..core_calcs.studies.assembly_plans import AssemblyOrder
from ..core_calcs.studies.clearance import PreparedClearance, Tried, prepare_clearance, try_pose
from ..core_calcs.studies.corrections import put_back
from ..core_calcs.studies.display import Surface, make_display_surfaces
from ..core_calcs.studies.joint_cache import JointCache
from ..core_calcs.studies.missing_bones import make_bone
from ..core_calcs.studies.new_bones import BoneOrder
from ..core_calcs.studies.problems import Problem, describe_mesh, find_problems
from ..core_calcs.studies.putting_right import put_right
from ..core_calcs.studies.survey import Survey, survey_folder


@dataclass(frozen=True, eq=False)
class SurveyedScans:
    """A survey and the element table that goes with it.

    meshes : the state of each row's mesh in words
    found : what is to be looked at in each row's element, held against the others
    unnamed : files that no row names
    proposed : the table is new, not the one of the file
    digest : SHA-256 of the table's file as it was found; empty where there was none
    """

    survey: Survey
    rows: tuple[TableRow, ...]
    meshes: tuple[str, ...]
    found: tuple[tuple[Problem, ...], ...]
    unnamed: tuple[str, ...]
    proposed: bool
    digest: str


@dataclass(frozen=True, eq=False)
class ReadySkeleton:
    """A document with the display surfaces of its elements, by name.

    scans : what it was built from; from_cache : how many of its joints were found before, in words
    """

    document: SkeletonDocument
    mesh_folder: Path
    surfaces: dict[str, Surface]
    scans: SurveyedScans | None = None
    from_cache: str = ""


def survey_scans(folder: Path, unit: str, table: Path, propose_anew: bool, progress: Progress) -> SurveyedScans:
    """Survey a folder; hold the table that is there, or a proposal, against it. Nothing is written.

    A table that does not fit is not refused here: what is wrong with it is among the problems.
    """
    digest = hash_table(table)
    proposed = propose_anew or not digest
    rows = () if proposed else read_table(table)
    survey = survey_folder(folder, unit, part_of(progress, 0.0, 0.8), {row.file: row.unit for row in rows})
    rows = propose_table(survey) if proposed else rows
    progress("holding the elements against each other", 0.8)
    problems = find_problems(rows, survey)
    named = {row.file for row in rows}
    unnamed = tuple(record.file for record in survey.files if record.file not in named)
    meshes = tuple(describe_mesh(survey, row) for row in rows)
    found = tuple(tuple(problem for problem in problems if problem.element == row.element) for row in rows)
    return SurveyedScans(survey, rows, meshes, found, unnamed, proposed, digest)


def build_skeleton(
    folder: Path,
    table: Path,
    unit: str,
    name: str,
    loose: bool,
    triangles: int,
    cache: JointCache | None,
    progress: Progress,
) -> ReadySkeleton:
    """The skeleton that a table describes, as a document in the pose of the scans.

    loose : the column's elements stand anywhere, and wait to be assembled
    """
    read_table(table)  # a table that cannot be read is told before the files are surveyed
    scans = survey_scans(folder, unit, table, False, part_of(progress, 0.0, 0.1))
    within = part_of(progress, 0.1, 0.9)
    skeleton = articulate(scans.rows, scans.survey, folder, name, None, within, cache=cache, loose=loose)
    document = SkeletonDocument(skeleton, (Pose(AS_SCANNED),), default_build(), Site(), ".")
    surfaces = make_display_surfaces(skeleton.elements, folder, triangles, part_of(progress, 0.9, 1.0))
    kept = cache.describe() if cache is not None and cache.kept else ""
    return ReadySkeleton(document, folder, surfaces, scans, kept)


def read_skeleton(path: Path, triangles: int, progress: Progress) -> ReadySkeleton:
    """A skeleton document from its file, with what is to be shown of it: nothing of files that are missing."""
    document = read_document(path)
    folder = locate_mesh_folder(document, path).resolve()
    missing = list_missing(document, folder)
    shown = [element for element in document.skeleton.elements if element.source.file not in missing]
    return ReadySkeleton(document, folder, make_display_surfaces(shown, folder, triangles, progress))


def find_surfaces(
    document: SkeletonDocument, folder: Path, elements: Sequence[Element], triangles: int, progress: Progress
) -> dict[str, Surface]:
    """Display surfaces of some elements from a folder that holds every mesh file of the document as recorded."""
    require_meshes(document, folder, part_of(progress, 0.0, 0.5))
    return make_display_surfaces(elements, folder, triangles, part_of(progress, 0.5, 1.0))


@dataclass(frozen=True, eq=False)
class TriedPoses:
    """What was made ready to tell clearance, and poses tried with it, in the order given."""

    prepared: PreparedClearance
    tried: tuple[Tried, ...]


def try_poses(
    skeleton: Skeleton,
    folder: Path,
    poses: Sequence[Pose],
    ready: PreparedClearance | None,
    earlier: PreparedClearance | None,
    progress: Progress,
) -> TriedPoses:
    """Try which elements run into each other in some poses.

    ready : of this very skeleton; without it, it is made, with what `earlier` has of the same files
    """
    prepared = ready or prepare_clearance(skeleton, folder, earlier, part_of(progress, 0.0, 0.8))
    tried = []
    for i, pose in enumerate(poses):
        progress(f"clearance in {pose.name}", 0.8 + 0.2 * i / len(poses))
        tried.append(try_pose(prepared, pose))
    return TriedPoses(prepared, tuple(tried))


def measure_wind(
    skeleton: Skeleton,
    folder: Path,
    poses: Sequence[Pose],
    directions: int,
    earlier: Outlines | None,
    progress: Progress,
) -> tuple[Outlines, tuple[Shown, ...]]:
    """What some poses show to the wind, from their elements' files; earlier : has some of them already."""
    require_files(skeleton.elements, folder)
    outlines = prepare_outlines(skeleton.elements, folder, earlier, part_of(progress, 0.0, 0.6))
    return outlines, measure_poses(skeleton, poses, directions, outlines, part_of(progress, 0.6, 1.0))


def put_verdict_right(
    document: SkeletonDocument,
    folder: Path,
    verdict: Verdict,
    told: Record,
    triangles: int,
    cache: JointCache | None,
    progress: Progress,
) -> MadeBone:
    """What an audit found wrong put right; told : why, by whom, when. A surface that was mirrored is shown anew."""
    given = (document, folder, verdict, told.why, told.by, told.when, part_of(progress, 0.0, 0.95), cache)
    changed, name = put_right(*given), verdict.elements[0]
    mirrored = [changed.skeleton.elements[changed.skeleton.index(name)]] if verdict.fault == "mirrored" else []
    surfaces = make_display_surfaces(mirrored, folder, triangles, part_of(progress, 0.95, 1.0))
    return MadeBone(changed, name, surfaces)


def take_back(
    document: SkeletonDocument, folder: Path, told: Record, cache: JointCache | None, progress: Progress
) -> SkeletonDocument:
    """The last correction taken back; told : why, by whom, when."""
    return put_back(document, folder, told, progress, cache)


def assemble_column(
    document: SkeletonDocument,
    folder: Path,
    order: AssemblyOrder,
    told: Record,
    earlier: Path | None,
    cache: JointCache | None,
    progress: Progress,
) -> Assembly:
    """The column put together; earlier : a document's file in which the facets are known."""
    before = None if earlier is None else read_document(earlier)
    return assemble_document(document, folder, order, told, before, progress, cache)


@dataclass(frozen=True, eq=False)
class MadeBone:
    """A document with a bone that was made, and what is to be shown of it; name : of the bone."""

    document: SkeletonDocument
    name: str
    surfaces: dict[str, Surface]


def make_missing(
    document: SkeletonDocument,
    folder: Path,
    order: BoneOrder,
    triangles: int,
    cache: JointCache | None,
    progress: Progress,
) -> MadeBone:
    """A missing bone made of another; its file is written into the folder of the scans."""
    changed = make_bone(document, folder, order, part_of(progress, 0.0, 0.95), cache)
    element = changed.skeleton.elements[changed.skeleton.index(order.name)]
    surfaces = make_display_surfaces([element], folder, triangles, part_of(progress, 0.95, 1.0))
    return MadeBone(changed, order.name, surfaces)
