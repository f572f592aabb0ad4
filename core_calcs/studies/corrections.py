"""Errors of a mount put right: an element turned in its place, two exchanged; with a record, and back again.

Nothing else moves. What is touched is looked for anew: the joints of the elements that were put right, their limits and
cuts, and the points by which they touch the ground. How all stood before is kept as a pose.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from ..articulation.frames import find_cut
from ..articulation.places_by_hand import restore_place
from ..document.document import SkeletonDocument
from ..document.editing import propose_name
from ..document.meshes import require_files
from ..document.record import Record
from ..mesh.element_surface import read_element
from ..mesh.samples import sample_surface
from ..skeleton.discs import find_disc_shifts, take_discs_out
from ..skeleton.element import Element
from ..skeleton.joint import Joint
from ..skeleton.pose import AS_MOUNTED, AS_SCANNED, Pose
from ..skeleton.tree import Foot, Skeleton, build_skeleton
from ..skeleton.verdict import Fault, Verdict
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress, ignore_progress, part_of
from ..spatial.transforms import Array, apply, invert, is_rigid, make_transform, round_places
from .contacts_by_hand import find_contact
from .joint_cache import JointCache
from .searched_joints import default_settings, exchange_joints, name_hand, name_way, search_scanned

PUT_RIGHT = ("turned", "exchanged")
"""Actions that can be put back."""
_CUT_POINTS = 2000
_ASKED_FOR = {"turned": 1, "exchanged": 2}


def correct(
    document: SkeletonDocument,
    mesh_folder: Path,
    fault: Fault,
    places: Mapping[str, Array],
    told: Record,
    progress: Progress = ignore_progress,
    cache: JointCache | None = None,
) -> SkeletonDocument:
    """The document with an element turned, or two exchanged; saved angles stay where a joint still turns.

    Of two that are exchanged each name keeps its place, joints and castings, and gets the other's surface, with what is
    told of that: where it comes from, its volume, what its casting was weighed at. Facets that were marked on the
    elements are given up: they were marked on what stood wrong.

    Parameters
    ----------
    places : (4, 4) X_WE, by element, at which its own surface is to stand, as a `Verdict` has them
    told : what, why, evidence, by whom, when; its kind, action, elements and places before are filled in here

    Raises
    ------
    SkeletonError : no such element, not one (turned) or two (exchanged), a place that is not rigid
    DocumentError, MeshFileError : files of the elements or of what they are joined to are missing, or others
    """
    if fault not in _ASKED_FOR or len(places) != _ASKED_FOR[fault]:
        what = f"{len(places)} elements cannot be put right as {fault}"
        raise SkeletonError(", ".join(places) or "element", what, "one is turned, two are exchanged")
    before = _take_discs_out(document)
    new = _stand_right(before.skeleton, fault, places, find_disc_shifts(document.skeleton))
    words = (told.what, told.why, told.evidence, told.by, told.when)
    record = Record("correction", fault, tuple(places), *words, before=_stood(before.skeleton, new))
    changed = exchange_elements(before, mesh_folder, new, progress, cache)
    return _keep(document, changed, record, fault)


def correct_by_verdict(
    document: SkeletonDocument,
    mesh_folder: Path,
    verdict: Verdict,
    why: str,
    by: str,
    when: str,
    progress: Progress = ignore_progress,
    cache: JointCache | None = None,
) -> SkeletonDocument:
    """The document with what an audit found wrong put right, its figures as the record's evidence; see `correct`.

    Raises
    ------
    SkeletonError : the audit did not find it wrong; no reason
    """
    of = " and ".join(verdict.elements)
    if verdict.decision != "wrong":
        remedy = "choose one of the ways that it tried, with a reason, if you know better"
        raise SkeletonError(of, f"the audit did not find it wrong, but {verdict.decision}", remedy)
    if not why.strip():
        raise SkeletonError(of, "it is put right without a reason", "write why")
    way = verdict.chosen or verdict.ratings[0].way
    # Of a bone of a limb the way is told with its name: "humerus left turned".
    turned = "turned by half a turn" if way.endswith(" turned") else f"turned {way}"
    what = f"exchanged {of}" if verdict.fault == "exchanged" else turned
    told = Record("correction", verdict.fault, verdict.elements, what, why.strip(), tell_evidence(verdict), by, when)
    return correct(document, mesh_folder, verdict.fault, verdict.places, told, progress, cache)


def tell_evidence(verdict: Verdict) -> str:
    """What an audit says and the figures of every way it tried, in one line."""
    ways = []
    for rating in verdict.ratings:
        figures = ", ".join(f"{name} {value:.3g}" for name, value in rating.figures)
        ways.append(f"{rating.way}: {rating.score:.2f}" + (f" ({figures})" if figures else ""))
    return f"{verdict.what.rstrip('.')}. Ways tried, the best first: {'; '.join(ways)}"


def put_back(
    document: SkeletonDocument,
    mesh_folder: Path,
    told: Record,
    progress: Progress = ignore_progress,
    cache: JointCache | None = None,
) -> SkeletonDocument:
    """The document with the last correction that still counts taken back; its record stays, and gets a fellow.

    Raises
    ------
    SkeletonError : no correction counts
    DocumentError, MeshFileError : as in `correct`
    """
    record = last_correction(document)
    if record is None:
        raise SkeletonError(document.skeleton.name, "nothing was put right that could be put back", "there is no need")
    before = _take_discs_out(document)
    skeleton = before.skeleton
    X_WE = {}
    for name, X in record.before.items():
        i = skeleton.index(name)
        X_WE[name] = X if i == 0 else skeleton.elements[skeleton.parents[i]].X_WE @ X
    if record.action == "exchanged":  # each surface bears the other's name now
        X_WE = dict(zip(X_WE, reversed(X_WE.values()), strict=True))
    fault: Fault = "exchanged" if record.action == "exchanged" else "turned"
    new = _stand_right(skeleton, fault, X_WE, {name: np.zeros(3) for name in X_WE})
    words = (told.what or f"put back: {record.what}", told.why, told.evidence, told.by, told.when)
    back = Record("correction", "put back", record.elements, *words, before=_stood(skeleton, new))
    return _keep(document, exchange_elements(before, mesh_folder, new, progress, cache), back, fault)


def last_correction(document: SkeletonDocument) -> Record | None:
    """The last turn or exchange that was not put back; None where there is none."""
    open_ones: list[Record] = []
    for record in document.records:
        if record.kind == "correction" and record.action in PUT_RIGHT:
            open_ones.append(record)
        elif record.kind == "correction" and record.action == "put back" and open_ones:
            open_ones.pop()
    return open_ones[-1] if open_ones else None


def _take_discs_out(document: SkeletonDocument) -> SkeletonDocument:
    return replace(document, skeleton=take_discs_out(document.skeleton))


def _stand_right(
    skeleton: Skeleton, fault: Fault, places: Mapping[str, Array], shifts: Mapping[str, Array]
) -> dict[str, Element]:
    """By name, the elements as they are to be, discs left out; shifts : (3,) what discs have moved each element by."""
    known = {name: skeleton.elements[skeleton.index(name)] for name in places}
    names = list(places)
    into = dict(zip(names, reversed(names), strict=True)) if fault == "exchanged" else {name: name for name in names}
    found = {}
    for name, X_WE in places.items():
        if not is_rigid(X_WE):
            raise SkeletonError(name, "its place is not a rigid transform", "move and turn it, but do not mirror it")
        X = np.array(X_WE, float)
        X[:3, 3] = round_places(X[:3, 3] - shifts[into[name]])
        of, there = known[name], known[into[name]]
        found[there.name] = replace(
            there, source=of.source, solid=of.solid, voids=of.voids, origin=of.origin, made_from=of.made_from, X_WE=X
        )
    return found


def _stood(skeleton: Skeleton, new: Mapping[str, Element]) -> dict[str, Array]:
    """Where the elements that change stood against their parents."""
    stood = {}
    for name in new:
        i = skeleton.index(name)
        X_WE = skeleton.elements[i].X_WE
        stood[name] = X_WE if i == 0 else invert(skeleton.elements[skeleton.parents[i]].X_WE) @ X_WE
    return stood


def exchange_elements(
    scanned: SkeletonDocument,
    mesh_folder: Path,
    new: Mapping[str, Element],
    progress: Progress,
    cache: JointCache | None,
) -> SkeletonDocument:
    """A document whose discs have been taken out with other elements in it, their joints found anew, the discs in."""
    skeleton = scanned.skeleton
    touched = [joint for joint in skeleton.joints if {joint.parent, joint.child} & new.keys()]
    around = {name for joint in touched for name in (joint.parent, joint.child)}
    require_files([new.get(name, skeleton.elements[skeleton.index(name)]) for name in sorted(around)], mesh_folder)
    elements = tuple(new.get(element.name, element) for element in skeleton.elements)
    joints = tuple(_carry(skeleton, new, joint) for joint in skeleton.joints)
    feet = tuple(_touch_again(foot, new, mesh_folder) for foot in skeleton.feet)
    changed = replace(scanned, skeleton=build_skeleton(skeleton.name, elements, joints, feet, skeleton.left_out))
    found = []
    for k, joint in enumerate(touched):
        within = part_of(progress, k / len(touched), (k + 1) / len(touched))
        found.append(find_again(changed, mesh_folder, changed.skeleton.joint_of(joint.child), within, cache))
    return exchange_joints(changed, found)


def _touch_again(foot: Foot, new: Mapping[str, Element], mesh_folder: Path) -> Foot:
    """A foot with the points of its elements' new surfaces."""
    contacts = [find_contact(new[own.element], mesh_folder) if own.element in new else own for own in foot.contacts]
    return replace(foot, contacts=tuple(contacts))


def _carry(skeleton: Skeleton, new: Mapping[str, Element], joint: Joint) -> Joint:
    """A joint between elements that change: without marks and facets on them; a child placed by hand stays in place."""
    marks = tuple(mark for mark in joint.marks if mark.element not in new)
    facets = tuple(facet for facet in joint.facets if facet.element not in new)
    placing = joint.placing
    if placing is not None and joint.parent in new:
        X_WP = skeleton.elements[skeleton.index(joint.parent)].X_WE
        placing = replace(placing, X_PE=invert(new[joint.parent].X_WE) @ X_WP @ placing.X_PE)
    return replace(joint, marks=marks, facets=facets, placing=placing)


def find_again(
    scanned: SkeletonDocument, mesh_folder: Path, joint: Joint, progress: Progress, cache: JointCache | None
) -> Joint:
    """A joint whose elements have changed; one that was set by hand stays, a fixed one is cut anew."""
    if not name_hand(joint) and name_way(scanned.skeleton, joint) is not None:
        settings = default_settings(scanned.skeleton, joint)
        return search_scanned(scanned, mesh_folder, joint, settings, progress, cache)
    if joint.moves or joint.also is not None:
        return joint
    points = [_sample(scanned.skeleton, name, mesh_folder) for name in (joint.parent, joint.child)]
    return replace(joint, X_WJ=make_transform(joint.X_WJ[:3, :3], round_places(find_cut(*points))))


def _sample(skeleton: Skeleton, name: str, mesh_folder: Path) -> Array:
    element = skeleton.elements[skeleton.index(name)]
    source = element.source
    surface = read_element(mesh_folder, source.file, source.body, source.unit_m)
    return apply(element.X_WE, sample_surface(surface, np.inf, _CUT_POINTS, _CUT_POINTS).points)


def _keep(document: SkeletonDocument, changed: SkeletonDocument, record: Record, fault: Fault) -> SkeletonDocument:
    """With the record, how all stood at first as a pose, and what castings were weighed at under the right names."""
    poses = changed.poses
    if not any(pose.mounted for pose in poses):
        poses = (*poses, keep_mounted(document))
    build = changed.build
    if fault == "exchanged":
        poses = tuple(_exchange_mounted(pose, record.elements) for pose in poses)
        one, other = record.elements
        names = {one: other, other: one}
        weighings = tuple(replace(own, element=names.get(own.element, own.element)) for own in build.weighings)
        build = replace(build, weighings=weighings)
    return replace(changed, poses=poses, build=build, records=(*document.records, record))


def keep_mounted(document: SkeletonDocument) -> Pose:
    """Where every element was scanned, placed as the pose as scanned places the whole."""
    skeleton = take_discs_out(document.skeleton)
    for joint in skeleton.joints:
        if joint.placing is not None:
            skeleton = restore_place(skeleton, joint.child)
    scanned = next((pose for pose in document.poses if pose.name == AS_SCANNED), Pose(AS_SCANNED))
    mounted = {element.name: element.X_WE for element in skeleton.elements}
    note = "Where every element stood before the first correction."
    return Pose(propose_name(document, AS_MOUNTED), {}, scanned.X_WN, note, scanned.idle_feet, mounted)


def _exchange_mounted(pose: Pose, pair: Sequence[str]) -> Pose:
    """A pose as mounted, after two elements have got each other's surface."""
    one, other = pair
    if not {one, other} <= pose.mounted.keys():
        return pose
    return replace(pose, mounted={**pose.mounted, one: pose.mounted[other], other: pose.mounted[one]})
