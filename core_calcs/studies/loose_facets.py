"""The facets by which loose elements of a column are to be mated: marked by hand, or known from an earlier mounting."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from ..articulation.column_joint import LOOSE
from ..articulation.facets import Patch
from ..articulation.known_facets import Facets, find_own_midplane, prepare_loose, take_outlined, take_painted
from ..articulation.marked_facets import read_faces
from ..articulation.midplanes import Midplane
from ..articulation.partner import Partner
from ..document.meshes import require_files
from ..mesh.element_surface import read_element
from ..mesh.reading import find_mesh_file, read_surface
from ..skeleton.element import Element
from ..skeleton.joint import Facet, FacetKind, FacetMark, Joint
from ..skeleton.motions import move_facet
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress
from ..spatial.transforms import invert
from .searched_joints import name_hand, name_way

KINDS: tuple[FacetKind, ...] = ("centrum", "left zygapophysis", "right zygapophysis")


@dataclass(frozen=True, eq=False)
class KnownFacets:
    """What is known of a joint that is to be mated, facets in the frames of their own elements.

    pairs : (on the parent, on the child)
    gaps_m : of each pair, as an earlier mounting had them; None where none is known
    origin : where the facets come from, in words
    """

    pairs: tuple[tuple[Patch, Patch], ...]
    gaps_m: tuple[float | None, ...]
    origin: str

    @property
    def has_end_plates(self) -> bool:
        """Whether its end plates are among them."""
        return any(pair[0].kind == "centrum" for pair in self.pairs)

    @property
    def gap_m(self) -> float | None:
        """The gap between its end plates as an earlier mounting had it; None where that is not known."""
        own = (gap for pair, gap in zip(self.pairs, self.gaps_m, strict=True) if pair[0].kind == "centrum")
        return next(own, None)


@dataclass(frozen=True, eq=False)
class LooseColumn:
    """The elements of a column made ready for mating, each in its own frame.

    known : by child; a joint that nothing is known of is not in it
    """

    elements: Mapping[str, Partner]
    known: Mapping[str, KnownFacets]
    midplanes: Mapping[str, Midplane | None] = field(default_factory=dict)


def list_facet_joints(skeleton: Skeleton) -> tuple[Joint, ...]:
    """The joints between neighbours of the column, in the skeleton's order, those fixed by hand among them."""
    return tuple(joint for joint in skeleton.joints if name_way(skeleton, joint) == "column" and joint.fit is None)


def is_loose(joint: Joint) -> bool:
    """Whether its elements stand anywhere: it was not looked for, and waits for the assembly."""
    return not joint.moves and joint.reason.endswith(LOOSE)


def is_mated(joint: Joint) -> bool:
    """Whether a joint of the column is one that facets tell, no fixed one."""
    return joint.also is None and (joint.kind == "by hand" or not name_hand(joint))


def find_known(
    skeleton: Skeleton,
    earlier: Skeleton | None,
    joints: Sequence[Joint],
    mesh_folder: Path,
    progress: Progress,
) -> LooseColumn:
    """The facets of joints of the column, and the elements that they lie on.

    Marks on both elements win over facets of an earlier skeleton, and those over the facets that the joint has itself.

    Parameters
    ----------
    skeleton, earlier : whose discs have been taken out; the earlier one of the same files, standing in any other way

    Raises
    ------
    SkeletonError : a facet is marked on one element alone, or faces that are not there; an element has no volume
    DocumentError, MeshFileError : files are missing, or others than the skeletons were made from
    """
    names = sorted({name for joint in joints for name in (joint.parent, joint.child)}, key=skeleton.index)
    ends = {name: skeleton.elements[skeleton.index(name)] for name in names}
    require_files(list(ends.values()), mesh_folder)
    ready = {}
    for k, (name, element) in enumerate(ends.items()):
        progress(f"reading {name}", k / len(ends))
        ready[name] = prepare_element(element, mesh_folder)
    known: dict[str, KnownFacets] = {}
    at_joints: dict[str, list[Facets]] = {name: [] for name in names}
    for joint in joints:
        found = _find(joint, ends, ready, skeleton, earlier, mesh_folder)
        if found is None:
            continue
        known[joint.child] = found
        for k, name in enumerate((joint.parent, joint.child)):
            at_joints[name].append({pair[k].kind: pair[k] for pair in found.pairs})
    planes = {name: find_own_midplane(ready[name], facets) for name, facets in at_joints.items()}
    return LooseColumn(ready, known, planes)


def prepare_element(element: Element, mesh_folder: Path) -> Partner:
    """An element for mating, read from its file, in its own frame."""
    source, solid = element.source, element.solid
    surface = read_element(mesh_folder, source.file, source.body, source.unit_m)
    return prepare_loose(element.name, surface, solid.volume_m3, solid.centre_m)


def _find(
    joint: Joint,
    ends: Mapping[str, Element],
    ready: Mapping[str, Partner],
    skeleton: Skeleton,
    earlier: Skeleton | None,
    mesh_folder: Path,
) -> KnownFacets | None:
    marked = _take_marks(joint, ends, ready, mesh_folder)
    if marked is not None:
        return marked
    if earlier is not None:
        own = next((one for one in earlier.joints if (one.parent, one.child) == (joint.parent, joint.child)), None)
        if own is not None and _share_files(skeleton, earlier, joint):
            found = _take_facets(own, earlier, ready, "an earlier document")
            if found is not None:
                return found
    return _take_facets(joint, skeleton, ready, "as found before")


def _share_files(skeleton: Skeleton, earlier: Skeleton, joint: Joint) -> bool:
    """Whether two skeletons read the elements of a joint from the same files, so that their frames are the same.

    Raises
    ------
    SkeletonError : they read one of them from others
    """
    for name in (joint.parent, joint.child):
        now, then = (one.elements[one.index(name)].source for one in (skeleton, earlier))
        if (now.sha256, now.body, now.unit_m) != (then.sha256, then.body, then.unit_m):
            what = f"its file {now.file} is another than the earlier document's {then.file}"
            raise SkeletonError(name, what, "mark its facets, or give a document of the same files")
    return True


def _take_marks(
    joint: Joint, ends: Mapping[str, Element], ready: Mapping[str, Partner], mesh_folder: Path
) -> KnownFacets | None:
    """The pairs of marks; None where nothing is marked."""
    by_kind: dict[FacetKind, dict[str, FacetMark]] = {}
    for mark in joint.marks:
        by_kind.setdefault(mark.kind, {})[mark.element] = mark
    if "articular surface" in by_kind:
        what = "a facet is marked, but not which one it is"
        raise SkeletonError(f"joint of {joint.child}", what, f"mark it again as one of: {', '.join(KINDS)}")
    pairs = []
    for kind in KINDS:
        on = by_kind.get(kind, {})
        if not on:
            continue
        lacking = [name for name in (joint.parent, joint.child) if name not in on]
        if lacking:
            what = f"its {kind} is marked on {next(iter(on))} alone"
            raise SkeletonError(f"joint of {joint.child}", what, f"mark it on {lacking[0]} as well")
        on_parent, on_child = (
            paint_mark(on[name], ends[name], ready[name], mesh_folder) for name in (joint.parent, joint.child)
        )
        pairs.append((on_parent, on_child))
    return KnownFacets(tuple(pairs), (None,) * len(pairs), "marked by hand") if pairs else None


def paint_mark(mark: FacetMark, element: Element, ready: Partner, mesh_folder: Path) -> Patch:
    """What of an element, made ready, lies on the faces that are marked.

    Raises
    ------
    SkeletonError : the file has no such faces, or they are too few
    """
    source = element.source
    raw = read_surface(find_mesh_file(mesh_folder, source.file), source.unit_m)
    return take_painted(ready, raw, read_faces(mark.faces, f"facet of {mark.element}"), mark.kind)


def _take_facets(joint: Joint, skeleton: Skeleton, ready: Mapping[str, Partner], origin: str) -> KnownFacets | None:
    """The pairs of facets that a joint has, in the frames of their elements; None where it has no pair."""
    pairs, gaps = [], []
    for kind in KINDS:
        both = [_take_facet(joint, kind, name, skeleton, ready[name]) for name in (joint.parent, joint.child)]
        on_parent, on_child = both
        if on_parent is None or on_child is None:
            continue
        pairs.append((on_parent, on_child))
        gaps.append((on_parent.gap_m + on_child.gap_m) / 2)
    return KnownFacets(tuple(pairs), tuple(gaps), origin) if pairs else None


def _take_facet(joint: Joint, kind: FacetKind, name: str, skeleton: Skeleton, element: Partner) -> Patch | None:
    own: list[Facet] = [
        facet
        for facet in joint.facets
        if facet.kind == kind and facet.element == name and facet.confidence != "ambiguous"
    ]
    if len(own) != 1:
        return None
    X_WE = skeleton.elements[skeleton.index(name)].X_WE
    return take_outlined(element, move_facet(own[0], invert(X_WE)))
