"""What acts on a pose besides its weight: the site's actions as plain forces, for stability and for joints."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from ..actions.variable import VariableAction, act_at_point
from ..actions.wind import WindAreas, blow, measure_wind_areas
from ..document.document import SkeletonDocument
from ..document.meshes import locate_mesh_folder, require_files
from ..mesh.element_surface import read_element
from ..mesh.proxies import make_proxy
from ..mesh.silhouettes import OutlinedBody, measure_silhouette, outline_body, place_bodies
from ..mesh.surface import Surface
from ..site.site import Site
from ..skeleton.element import Element, Source
from ..skeleton.kinematics import place_elements
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.errors import DocumentError
from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import Array
from ..statics.cuts import PointForces
from ..statics.equ import Action

TRIANGLES = 20_000
"""An element shows the wind its surface of so many triangles at most; what that leaves out is measured."""
_VIEWS = np.array([(1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 0), (1, 0, 1), (0, 1, 1), (1, 1, 1)], float)


@dataclass(frozen=True, eq=False)
class Outlines:
    """Elements made ready for silhouettes, by what they were read from.

    bodies : each in its element's frame
    missing_share : how much of its own silhouette a surface may lack for having fewer triangles, by the same; seen in
        seven directions; 0 for those taken whole
    """

    bodies: Mapping[Source, OutlinedBody]
    missing_share: Mapping[Source, float]


@dataclass(frozen=True, eq=False)
class Shown:
    """What a pose shows to the wind, and how much of any element's silhouette may be lacking."""

    areas: WindAreas
    missing_share: float


@dataclass(frozen=True, eq=False)
class Acting:
    """What acts on one pose besides its weight.

    actions : every variable action of the site, wind last; empty where nothing is said to act
    areas : what the pose shows to the wind; None: no wind acts, or it is not known
    missing_share : how much of any element's silhouette may be lacking
    unknown : what acts, but with how much is not known, and what is missing for it
    """

    actions: tuple[VariableAction, ...]
    areas: WindAreas | None = None
    missing_share: float = 0.0
    unknown: tuple[tuple[str, str], ...] = field(default=())


def prepare_outlines(
    elements: Sequence[Element],
    mesh_folder: Path,
    earlier: Outlines | None = None,
    progress: Progress = ignore_progress,
) -> Outlines:
    """Read every element's surface and make it ready; what `earlier` holds of the same file is taken from there.

    Raises
    ------
    MeshFileError : a file is missing or cannot be read
    """
    known = earlier or Outlines({}, {})
    bodies: dict[Source, OutlinedBody] = {}
    missing: dict[Source, float] = {}
    by_file = sorted(elements, key=lambda element: (element.source.file, element.source.body or 0))
    for i, element in enumerate(by_file):
        progress(f"outline of {element.name}", i / len(by_file))
        source = element.source
        if source in known.bodies:
            bodies[source], missing[source] = known.bodies[source], known.missing_share[source]
        else:
            whole = read_element(mesh_folder, source.file, source.body, source.unit_m)
            bodies[source], missing[source] = _outline(whole)
    return Outlines(bodies, missing)


def _outline(whole: Surface) -> tuple[OutlinedBody, float]:
    if len(whole.faces) <= TRIANGLES:
        return outline_body(whole), 0.0
    light, full = outline_body(make_proxy(whole, TRIANGLES)), outline_body(whole)
    seen = [[measure_silhouette(place_bodies([body], np.eye(4)[None]), view).area_m2 for view in _VIEWS]
            for body in (light, full)]  # fmt: skip
    return light, max(0.0, float((1 - np.divide(*np.array(seen))).max()))


def read_outlines(
    document: SkeletonDocument, document_path: Path, progress: Progress = ignore_progress
) -> Outlines | None:
    """The outlines of a document's elements; None where no wind acts, or files are missing or changed.

    Raises
    ------
    MeshFileError : a file cannot be read
    """
    elements = document.skeleton.elements
    if document.site.wind is None:
        return None
    folder = locate_mesh_folder(document, document_path)
    try:
        require_files(elements, folder)
    except DocumentError:
        return None  # wind is not known, which its checks say
    return prepare_outlines(elements, folder, None, progress)


def list_acting(skeleton: Skeleton, X_WE: Array, site: Site, outlines: Outlines | None = None) -> Acting:
    """The site's actions on elements that stand at X_WE (n, 4, 4) in a pose.

    outlines : of these elements; None where their surfaces were not read: wind is then not known
    """
    if outlines is None or site.wind is None:
        return _act(skeleton, X_WE, site, None)
    return _act(skeleton, X_WE, site, measure_shown(skeleton, X_WE, site.directions, outlines))


def act_on_pose(skeleton: Skeleton, pose: Pose, site: Site, shown: Shown | None) -> Acting:
    """The site's actions on a pose.

    shown : what it shows to the wind, from the site's directions; None: not measured, wind is not known
    """
    return _act(skeleton, place_elements(skeleton, pose), site, shown)


def measure_poses(
    skeleton: Skeleton,
    poses: Sequence[Pose],
    directions: int,
    outlines: Outlines,
    progress: Progress = ignore_progress,
) -> tuple[Shown, ...]:
    """What each pose shows to the wind."""
    found = []
    for i, pose in enumerate(poses):
        progress(f"silhouettes of {pose.name}", i / len(poses))
        found.append(measure_shown(skeleton, place_elements(skeleton, pose), directions, outlines))
    return tuple(found)


def measure_shown(skeleton: Skeleton, X_WE: Array, directions: int, outlines: Outlines) -> Shown:
    """What elements at X_WE (n, 4, 4) show to the wind from so many directions."""
    sources = [element.source for element in skeleton.elements]
    crowd = place_bodies([outlines.bodies[source] for source in sources], X_WE)
    lacking = max(outlines.missing_share[source] for source in sources)
    return Shown(measure_wind_areas(crowd, directions), lacking)


def _act(skeleton: Skeleton, X_WE: Array, site: Site, shown: Shown | None) -> Acting:
    at = [skeleton.index(own.element) for own in site.actions]
    actions = [act_at_point(own, i, X_WE[i], site.directions) for own, i in zip(site.actions, at, strict=True)]
    if site.wind is None:
        return Acting(tuple(actions))
    if shown is None:
        missing = "the elements' surfaces, which its silhouettes are taken from"
        return Acting(tuple(actions), unknown=(("wind", missing),))
    return Acting((*actions, blow(shown.areas, site.wind)), shown.areas, shown.missing_share)


def as_overturning(action: VariableAction) -> Action:
    """The same as one force on the whole a way, for what overturns and slides."""
    anywhere = action.kind in ("push", "pull") and len(action.directions) > 1
    return Action(action.name, action.kind, action.whole_N, action.line_m, free=anywhere)


def as_point_forces(action: VariableAction, way: int) -> PointForces:
    """The same in one of its ways, as forces on the elements, for the wrenches of joints."""
    return PointForces(action.forces_N[way], action.points_m[way], action.bodies)
