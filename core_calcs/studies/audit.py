"""The orientation audit of a document: which elements were mounted the wrong way round, or in each other's place."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ..articulation.column_joint import ASKS_FOR_HAND
from ..articulation.exchanged_vertebrae import find_exchanged
from ..articulation.partner import Partner, prepare_partner
from ..articulation.turned import CELLS_A_SIZE, judge_column
from ..articulation.vertebrae import prepare_column
from ..document.document import SkeletonDocument
from ..document.meshes import require_files
from ..inspection.arrangement import COLUMN
from ..mesh.element_surface import read_element
from ..mesh.surface import Surface
from ..skeleton.element import Element
from ..skeleton.joint import Joint
from ..skeleton.tree import Skeleton
from ..skeleton.verdict import Decision, Verdict
from ..spatial.progress import Progress, ignore_progress, part_of
from ..spatial.transforms import Array, apply
from .articulate import SERIES_FROM_HEAD
from .audit_limbs import audit_limbs

_READING = 0.2
"""Share of the work that reading the elements takes."""
_TURNING = 0.95
"""And up to so much the trial of each the other way round."""
_COLUMN = 0.5
"""And the column, of the whole."""
_FEWEST = 2
"""So many vertebrae at least: one alone has nothing to be held against."""


@dataclass(frozen=True)
class Audit:
    """What is said of each element that could be tried: the column's from the head to the tail, then the limbs'.

    left_out : elements of the column that could not be tried, and why
    """

    verdicts: tuple[Verdict, ...]
    left_out: tuple[tuple[str, str], ...]

    def list_decided(self, decision: Decision) -> tuple[Verdict, ...]:
        """Those of one decision."""
        return tuple(verdict for verdict in self.verdicts if verdict.decision == decision)


def audit_document(
    document: SkeletonDocument,
    mesh_folder: Path,
    progress: Progress = ignore_progress,
    among: Collection[str] = (),
) -> Audit:
    """Try every vertebra, and every bone of limbs and girdles, in the ways that it may have been mounted.

    All are judged where they stand at neutral.

    progress : told often; may raise Cancelled
    among : names of elements that are asked about: where all are vertebrae, or none is, only the column, or only limbs
        and girdles, are tried, since neither has a say in what is found of the other; all are where none is named

    Raises
    ------
    DocumentError, MeshFileError : files of these elements are missing, or others than the document was made from
    SkeletonError : the column runs across the animal, or two of its elements have one centre
    """
    asked, vertebrae = set(among), {element.name for element in list_column(document.skeleton)}
    if asked and asked <= vertebrae:
        return _audit_column(document.skeleton, mesh_folder, progress)
    if asked and not asked & vertebrae:
        return Audit(audit_limbs(document, mesh_folder, progress), ())
    column = _audit_column(document.skeleton, mesh_folder, part_of(progress, 0, _COLUMN))
    limbs = audit_limbs(document, mesh_folder, part_of(progress, _COLUMN, 1))
    return Audit((*column.verdicts, *limbs), column.left_out)


def list_column(skeleton: Skeleton) -> tuple[Element, ...]:
    """The vertebrae from the head to the tail: what hangs together by joints of the column, found or looked for."""
    names = set()
    for joint in skeleton.joints:
        ends = [skeleton.elements[skeleton.index(name)] for name in (joint.parent, joint.child)]
        if all(end.series in COLUMN for end in ends) and _is_of_column(joint):
            names |= {end.name for end in ends}
    vertebrae = [element for element in skeleton.elements if element.name in names]
    return tuple(sorted(vertebrae, key=_rank))


def _is_of_column(joint: Joint) -> bool:
    """Whether it turns, or was looked for in the column and not found; chevrons hang on by neither."""
    return joint.moves or joint.kind == "column" or joint.reason.endswith(ASKS_FOR_HAND)


def _rank(element: Element) -> tuple[int, int, float]:
    """By series and position, and by place where it has none."""
    x = float(apply(element.X_WE, element.solid.centre_m[None])[0, 0])
    return SERIES_FROM_HEAD.index(element.series), element.position or 0, -x


def _audit_column(skeleton: Skeleton, mesh_folder: Path, progress: Progress) -> Audit:
    vertebrae = list_column(skeleton)
    hollow = [element for element in vertebrae if not element.solid.volume_m3 > 0]
    left_out = tuple((element.name, "it encloses no volume") for element in hollow)
    tried = [element for element in vertebrae if element not in hollow]
    if len(tried) < _FEWEST:
        return Audit((), left_out)
    require_files(tried, mesh_folder)
    ready = _read_partners(tried, mesh_folder, part_of(progress, 0, _READING))
    column = prepare_column([ready[element.name] for element in tried], [element.series for element in tried])
    turned, column = judge_column(column, part_of(progress, _READING, _TURNING))
    wrong = [i for i, verdict in enumerate(turned) if verdict.decision == "wrong"]
    exchanged = find_exchanged(column, wrong, part_of(progress, _TURNING, 1))
    names = {name for verdict in exchanged for name in verdict.elements}
    found = (*(verdict for verdict in turned if not names & set(verdict.elements)), *exchanged)
    return Audit(tuple(_place(skeleton, verdict) for verdict in found), left_out)


def _read_partners(elements: Sequence[Element], mesh_folder: Path, progress: Progress) -> dict[str, Partner]:
    """By name, elements made ready where they stand, file by file, so that a file of many bodies is read once."""
    ready = {}
    for k, element in enumerate(sorted(elements, key=lambda own: (own.source.file, own.source.body or 0))):
        progress(f"reading {element.name}", k / len(elements))
        source, solid = element.source, element.solid
        surface = read_element(mesh_folder, source.file, source.body, source.unit_m)
        placed = Surface(apply(element.X_WE, surface.vertices), surface.faces)
        centre = apply(element.X_WE, solid.centre_m[None])[0]
        ready[element.name] = prepare_partner(element.name, placed, solid.volume_m3, centre, cells_a_size=CELLS_A_SIZE)
    return ready


def _place(skeleton: Skeleton, verdict: Verdict) -> Verdict:
    """A verdict whose places are motions of the world, with the places themselves."""

    def place(motions: Mapping[str, Array]) -> dict[str, Array]:
        return {name: X @ skeleton.elements[skeleton.index(name)].X_WE for name, X in motions.items()}

    ratings = tuple(replace(rating, places=place(rating.places)) for rating in verdict.ratings)
    return replace(verdict, ratings=ratings, places=place(verdict.places))
