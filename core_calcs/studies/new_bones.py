"""A bone that was made of another, taken into a document: its file, its place in the tree, its joints, its record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

import numpy as np

from ..articulation.column_joint import ASKS_FOR_HAND
from ..articulation.frames import fixed_frame
from ..build.parts import list_parts
from ..document.document import SkeletonDocument
from ..document.meshes import require_files
from ..document.record import Record
from ..mesh.element_surface import read_element
from ..mesh.made_files import MadeMark, write_made
from ..mesh.reading import UNITS_M
from ..mesh.surface import Surface
from ..mesh.transformed import transform_surface
from ..skeleton.element import Element, Origin, Side, Source
from ..skeleton.joint import Joint, JointKind, LimitSettings
from ..skeleton.table import NAME_BYTES
from ..skeleton.tree import Foot, Skeleton, build_skeleton
from ..spatial.errors import MeshFileError, SkeletonError
from ..spatial.progress import Progress, part_of
from .castings import add_void
from .corrections import find_again
from .joint_cache import JointCache
from .searched_joints import exchange_joints
from .survey import survey_file

MadeWay = Literal["mirrored", "scaled"]
_MAKING = 0.2
"""Share of the work that comes before the search for joints."""


@dataclass(frozen=True)
class BoneOrder:
    """What bone is to be made, and who answers for it.

    name : of the bone; that of the source itself where a scan that is a mirror image is put right in its place
    way : mirrored of the source on the other side, or scaled of one in its row
    source : the element whose surface it is made of
    parent : what it hangs on; empty: as its partner does, or its neighbours in the row
    position : in its series; None: the partner's, or as the name says among its neighbours
    why : in the user's words; by : who, as typed; when : UTC, as 2026-11-27T03:10:00Z
    """

    name: str
    way: MadeWay
    source: str
    why: str
    by: str
    when: str
    parent: str = ""
    position: int | None = None


@dataclass(frozen=True, eq=False)
class MadeBone:
    """A bone as it was made, and how it is to be taken in.

    surface : in the world of the neutral articulation, discs left out [m]
    joints : its own first, then those of what hangs on it from now on, each as it is to be looked for, see
        `look_for` and `fix_again`
    feet : of the skeleton, with it
    what, evidence : for its record
    numbered_on : positions, by name, of those that make room for it in their row
    """

    surface: Surface
    source: Element
    position: int | None
    side: Side
    joints: tuple[Joint, ...]
    feet: tuple[Foot, ...]
    what: str
    evidence: str
    numbered_on: Mapping[str, int] = field(default_factory=dict)


def require_order(skeleton: Skeleton, order: BoneOrder) -> Element:
    """The source of a bone that can be made; SkeletonError where the order cannot be followed."""
    source = skeleton.elements[skeleton.index(order.source)]
    if not order.why.strip():
        raise SkeletonError(order.name or "bone", "it is made without a reason", "write why")
    if source.solid.volume_m3 <= 0:
        raise SkeletonError(source.name, "it encloses no volume, so that no bone can be made of it", "choose another")
    if order.name == order.source:
        return source
    name = order.name
    if not name.strip() or name != name.strip() or not name.isprintable() or any(mark in name for mark in "/\\:"):
        what = f"{name!r} cannot be the name of an element"
        raise SkeletonError("bone", what, "give a name without '/', '\\' and ':', and without a space at its ends")
    if len(name.encode()) > NAME_BYTES:
        raise SkeletonError(name, f"its name is longer than {NAME_BYTES} bytes", "shorten it")
    if name.casefold() in {element.name.casefold() for element in skeleton.elements}:
        raise SkeletonError(name, "an element of that name is in the skeleton", "choose another name")
    return source


def read_placed(element: Element, mesh_folder: Path) -> Surface:
    """An element's surface in the world of the neutral articulation; its file was looked at before."""
    source = element.source
    return transform_surface(read_element(mesh_folder, source.file, source.body, source.unit_m), element.X_WE)


def look_for(parent: Element, child: str, kind: JointKind, settings: LimitSettings | None) -> Joint:
    """A joint that is still to be looked for; fixed, with the reason, on a parent that encloses no volume."""
    if parent.solid.volume_m3 <= 0:
        return fix_again(
            parent.name, child, f"its parent encloses no volume, so that no facets were looked for{ASKS_FOR_HAND}"
        )
    return Joint(parent.name, child, kind, np.eye(4), (1, 1, 1), None, (), "none", "", settings)


def fix_again(parent: str, child: str, reason: str) -> Joint:
    """A fixed joint that is still to be cut."""
    return Joint(parent, child, "fixed", fixed_frame(np.zeros(3)), (1, 1, 1), None, (), "none", reason, None)


def keep_or_look(own: Joint, wanted: Joint, skeleton: Skeleton) -> Joint:
    """A child's joint on its new parent: what the user has set of it stays where it is, else it is looked for."""
    by_hand = own.kind == "by hand" or (own.confidence == "by hand" and not own.moves)
    kept = replace(own, parent=wanted.parent, marks=(), facets=(), disc=None, also=None) if by_hand else wanted
    placing = own.placing
    if placing is not None:  # the new parent's frame is the world's
        X_WP = skeleton.elements[skeleton.index(own.parent)].X_WE
        placing = replace(placing, X_PE=X_WP @ placing.X_PE)
    return replace(kept, placing=placing, also_in_table=None)


def list_above(skeleton: Skeleton, name: str) -> set[str]:
    """An element and all it hangs on."""
    above: set[str] = set()
    parents = {joint.child: joint.parent for joint in skeleton.joints}
    while name:
        above.add(name)
        name = parents.get(name, "")
    return above


def make_file(mesh_folder: Path, order: BoneOrder, source: Element, surface: Surface) -> tuple[Source, Element]:
    """The file of a made surface, and an element measured on it; the element has the source's place in the tree.

    Raises
    ------
    OutputError : it cannot be written
    """
    unit_m = source.source.unit_m
    mark = MadeMark(order.way, source.name, source.source.sha256)
    file = write_made(mesh_folder, order.name, surface, unit_m, mark)
    record = survey_file(mesh_folder / file, file, _name_unit(unit_m))
    if record.whole is None:
        raise MeshFileError(file, f"what was made cannot be read: {record.problem}", "report this")
    made = Source(file, None, unit_m, record.sha256)
    origin: Origin = order.way
    new = replace(source, source=made, solid=record.whole.solid, origin=origin, made_from=source.name, voids=())
    return made, new


def insert_bone(
    scanned: SkeletonDocument,
    mesh_folder: Path,
    order: BoneOrder,
    made: MadeBone,
    progress: Progress,
    cache: JointCache | None,
) -> SkeletonDocument:
    """A document whose discs have been taken out with a bone more, and the discs back in; writes the bone's file.

    Saved angles stay where a joint still turns.

    Raises
    ------
    SkeletonError : the tree would be none; DocumentError, MeshFileError : files of what it is joined to are not as
        recorded; OutputError : its file cannot be written
    """
    skeleton = scanned.skeleton
    others = {name for joint in made.joints for name in (joint.parent, joint.child)} - {order.name}
    require_files([skeleton.elements[skeleton.index(name)] for name in sorted(others)], mesh_folder)
    progress(f"writing {order.name}", _MAKING / 2)
    _, like = make_file(mesh_folder, order, made.source, made.surface)
    element = replace(like, name=order.name, position=made.position, side=made.side, X_WE=np.eye(4))
    element = add_void(element, read_placed(element, mesh_folder), scanned.build)
    joints = {joint.child: joint for joint in (*skeleton.joints, *made.joints)}
    others_on = (replace(own, position=made.numbered_on.get(own.name, own.position)) for own in skeleton.elements)
    given = (skeleton.name, (*others_on, element), tuple(joints.values()))
    changed = replace(scanned, skeleton=build_skeleton(*given, made.feet, skeleton.left_out))
    found = []
    for k, joint in enumerate(made.joints):
        share = (1 - _MAKING) / len(made.joints)
        within = part_of(progress, _MAKING + k * share, _MAKING + (k + 1) * share)
        within(f"joint of {joint.child}", 0.0)
        found.append(find_again(changed, mesh_folder, joint, within, cache))
    whole = exchange_joints(changed, found)
    list_parts(whole.skeleton, whole.build)  # a disc of the build that has no room there is told now
    what = f"{made.what}{_tell_joints(found)}"
    names = (order.name, made.source.name)
    record = Record(
        "addition", "made of another", names, what, order.why.strip(), made.evidence, order.by.strip(), order.when
    )
    return replace(whole, records=(*whole.records, record))


def tell_chain(skeleton: Skeleton, source: Element) -> str:
    """Of which elements a source was made itself, in words; empty where it was not."""
    chain, seen = [], {source.name}
    own = source
    while own.made_from and own.made_from not in seen:
        chain.append(f"{own.name} itself was {own.origin} of {own.made_from}")
        seen.add(own.made_from)
        known = {element.name: element for element in skeleton.elements}
        if own.made_from not in known:
            break
        own = known[own.made_from]
    return "; ".join(chain)


def tell_source(source: Element) -> str:
    """What of a source passes on to what is made of it, in words; empty where it is sound."""
    unsound = [state for state in source.solid.states if state in ("open", "several bodies")]
    if not unsound:
        return ""
    uncertainty = 100 * source.solid.volume_error_m3 / source.solid.volume_m3
    return (
        f"the surface of {source.name} is {' and of '.join(unsound)}: its volume is an estimate, ± {uncertainty:.2g} %"
    )


def _tell_joints(found: Sequence[Joint]) -> str:
    own, *others = found
    told = f"; on {own.parent}, {'turning' if own.moves else 'fixed'}"
    return f"{told}; {', '.join(joint.child for joint in others)} hung on it" if others else told


def _name_unit(unit_m: float) -> str:
    return next(name for name, length in UNITS_M.items() if length == unit_m)
