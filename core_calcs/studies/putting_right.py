"""What an audit found wrong put right, whatever is wrong with it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ..document.document import SkeletonDocument
from ..skeleton.verdict import Verdict
from ..spatial.progress import Progress, ignore_progress
from .corrections import correct_by_verdict, tell_evidence
from .joint_cache import JointCache
from .missing_bones import make_bone
from .new_bones import BoneOrder


def put_right(
    document: SkeletonDocument,
    mesh_folder: Path,
    verdict: Verdict,
    why: str,
    by: str,
    when: str,
    progress: Progress = ignore_progress,
    cache: JointCache | None = None,
) -> SkeletonDocument:
    """The document with an element turned, two exchanged, or one mirrored in its place; the figures are the evidence.

    A surface that is mirrored is written into the mesh folder: wrap this and the writing of the document into
    `made_files.together`, so that no file is left where the document cannot be written.

    Raises
    ------
    SkeletonError, DocumentError, MeshFileError, OutputError : as `corrections.correct_by_verdict` and
        `missing_bones.make_bone`
    """
    if verdict.fault != "mirrored" or verdict.decision != "wrong":
        return correct_by_verdict(document, mesh_folder, verdict, why, by, when, progress, cache)
    (name,) = verdict.elements
    order = BoneOrder(name, "mirrored", name, why, by, when)
    made = make_bone(document, mesh_folder, order, progress, cache)
    *others, record = made.records
    record = replace(record, evidence=f"{tell_evidence(verdict)}; {record.evidence}")
    return replace(made, records=(*others, record))
