"""What `counterpoise articulate` does."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ..build.build import Build, Casting
from ..build.materials import default_build, find_material
from ..document.document import SkeletonDocument
from ..document.meshes import list_few, relate_mesh_folder
from ..document.reading import read_document, write_document
from ..site.site import Site
from ..skeleton.joint import Joint, JointKind, LimitSettings
from ..skeleton.pose import AS_SCANNED, Pose
from ..skeleton.table import read_table
from ..skeleton.tree import Skeleton
from ..spatial.errors import OutputError
from ..spatial.progress import Progress
from ..studies.articulate import articulate, describe_joints
from ..studies.column import list_column_joints
from ..studies.joint_cache import JointCache, open_cache
from ..studies.resting import Resting, find_resting
from ..studies.survey import survey_folder
from .limit_text import LEGEND, describe_limits
from .terminal import Terminal

_SURVEYING = 0.1
"""Share of the work that the survey takes."""


@dataclass(frozen=True)
class Order:
    """What the user asked for.

    material : name of a material; empty for the default one
    casting : of all elements
    level : tilt the whole where more feet stand then
    replace : write over a document that holds more than a proposal
    cache : folder of joints that were found, or off; empty: the usual one
    loose : the column's elements stand anywhere and wait to be assembled
    """

    table_path: Path
    mesh_folder: Path
    document_path: Path
    name: str
    material: str
    casting: Casting
    settings: LimitSettings
    limb_search_rad: float
    site: Site
    level: bool
    replace: bool
    cache: str
    loose: bool = False


def run_articulate(terminal: Terminal, order: Order) -> None:
    """Make a skeleton and write its document with the neutral articulation standing on its feet."""
    material = find_material(order.material) if order.material else default_build().material
    build = Build(material, order.casting)
    _check_place(order)
    folder = relate_mesh_folder(order.mesh_folder, order.document_path)
    cache = open_cache(order.cache)
    with terminal.show_progress() as progress:
        skeleton = _make_skeleton(order, build, cache, progress)
    pose = Pose(AS_SCANNED)
    resting = None
    if skeleton.feet:
        resting = find_resting(skeleton, pose, order.site, order.level, order.mesh_folder)
    poses = (resting.standing.pose if resting else pose,)
    write_document(order.document_path, SkeletonDocument(skeleton, poses, build, order.site, folder))
    notes = [*describe_joints(skeleton), *([_describe_resting(skeleton, resting)] if resting else [])]
    if cache is not None and cache.kept:
        notes.append(cache.describe())
    _show_skeleton(terminal, skeleton, notes)
    terminal.show_line(f"{order.document_path}: written, with the pose {AS_SCANNED}")
    terminal.show_result(_skeleton_tree(order, skeleton, notes))


def _describe_resting(skeleton: Skeleton, resting: Resting) -> str:
    standing = resting.standing
    up = [foot.name for foot in skeleton.feet if foot.name not in standing.feet]
    within = f"within {standing.tolerance_m * 1000:g} mm of the ground"
    if standing.tilt_rad:
        within += f", tilted by {math.degrees(standing.tilt_rad):.2f}°"
    if resting.others:
        return f"In the pose {AS_SCANNED} it rests on {list_few(resting.others)}; no foot touches the ground."
    if resting.sunk:
        within += f" ({resting.sunk} reaches {resting.depth_m * 1000:.3g} mm below it)"
    if not up:
        return f"In the pose {AS_SCANNED} all {len(skeleton.feet)} feet stand {within}."
    stand = f"{len(standing.feet)} of {len(skeleton.feet)} feet stand {within}"
    return f"In the pose {AS_SCANNED} {stand}; not: {', '.join(up)}."


def is_proposal(document: SkeletonDocument) -> bool:
    """Whether a document holds nothing but what this command writes: no pose, joint, place, contact, site or casting of
    the user's, and no joint that was searched for with settings of its own.
    """
    site = document.site
    proposed = Site(contact_tolerance_m=site.contact_tolerance_m, clearance_share_s=site.clearance_share_s)
    return (
        all(pose.name == AS_SCANNED and not pose.note and _changes_nothing(pose) for pose in document.poses)
        and all(foot.origin == "proposed" for foot in document.skeleton.feet)
        and all(joint.confidence != "by hand" and joint.kind != "by hand" for joint in document.skeleton.joints)
        and not any(joint.marks for joint in document.skeleton.joints)
        and all(_share_settings(document.skeleton.joints, kind) for kind in ("column", "limb"))
        and all(own.placing is None and own.disc is None for own in document.skeleton.joints)
        and all(own.also == own.also_in_table for own in document.skeleton.joints)
        and site == proposed
        and not document.records
        and document.build == Build(document.build.material, document.build.casting)
    )


def _share_settings(joints: tuple[Joint, ...], kind: JointKind) -> bool:
    return len({joint.settings for joint in joints if joint.kind == kind}) <= 1


def _changes_nothing(pose: Pose) -> bool:
    return not pose.idle_feet and not any(np.any(angles) for angles in pose.angles_rad.values())


def _check_place(order: Order) -> None:
    """Refuse before the long work what would be refused after it."""
    path = order.document_path
    if not path.absolute().parent.is_dir():
        raise OutputError(str(path), "its folder is not there", "make the folder first")
    if path.exists() and not is_proposal(read_document(path)) and not order.replace:
        kept = "poses, joints, places, contacts, castings or a site that were set by hand, or with records"
        what = f"a document is there with {kept}"
        raise OutputError(str(path), what, "choose another file, or give --replace to write over it")


def _make_skeleton(order: Order, build: Build, cache: JointCache | None, progress: Progress) -> Skeleton:
    rows = read_table(order.table_path)
    units = {row.file: row.unit for row in rows}
    most = Counter(units.values()).most_common(1)[0][0]
    survey = survey_folder(order.mesh_folder, most, lambda doing, share: progress(doing, _SURVEYING * share), units)
    return articulate(
        rows,
        survey,
        order.mesh_folder,
        order.name,
        order.settings,
        lambda doing, share: progress(doing, _SURVEYING + (1 - _SURVEYING) * share),
        build,
        order.limb_search_rad,
        cache,
        loose=order.loose,
    )


def _show_skeleton(terminal: Terminal, skeleton: Skeleton, notes: Sequence[str]) -> None:
    terminal.show_line(f"{skeleton.name}: {len(skeleton.elements)} elements, root {skeleton.root.name}")
    terminal.show_line()
    moving = {joint.child: joint for joint in skeleton.joints if joint.moves}
    column = list_column_joints(skeleton)
    order = [name for name in (*column.forward, *column.backward) if name in moving]
    order += [name for name in moving if name not in order]
    rows = [(name, moving[name].parent, moving[name].confidence, *describe_limits(moving[name])) for name in order]
    heads = ("joint of", "on", "confidence", "flexion", "lateral", "axial")
    terminal.show_table(heads, rows, right=(3, 4, 5))
    terminal.show_line(LEGEND)
    terminal.show_line("Limits are those of bone and facets at the settings given: an outer bound.")
    terminal.show_line()
    for note in notes:
        terminal.show_line(note)


def _ranges_deg(joint: Joint) -> list[tuple[float, float] | None]:
    if joint.limits is None:
        return [None] * 3
    degrees = np.degrees([[limit.low.angle_rad, limit.high.angle_rad] for limit in joint.limits])
    return [(float(low), float(high)) for low, high in degrees]


def _skeleton_tree(order: Order, skeleton: Skeleton, notes: Sequence[str]) -> dict[str, Any]:
    joints = [
        {
            "child": joint.child,
            "parent": joint.parent,
            "kind": joint.kind,
            "confidence": joint.confidence,
            "also": joint.also,
            "reason": joint.reason,
            "flexion_lateral_axial_deg": _ranges_deg(joint),
        }
        for joint in skeleton.joints
    ]
    return {
        "document": str(order.document_path),
        "name": skeleton.name,
        "root": skeleton.root.name,
        "elements": len(skeleton.elements),
        "left_out": len(skeleton.left_out),
        "feet": [foot.name for foot in skeleton.feet],
        "joints": joints,
        "notes": list(notes),
    }
