"""Whether anything of the whole skeleton runs into anything else in a pose."""

from __future__ import annotations

import os
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..document.meshes import require_files
from ..mesh.broad_phase import Pairs
from ..mesh.clearance import Baseline, Overlaps, find_baseline, find_overlaps, find_pairs
from ..mesh.clearance_bodies import ClearanceBody, Crowd, gather_bodies, prepare_body
from ..mesh.surface import Surface
from ..site.site import Site
from ..skeleton.element import Element, Source
from ..skeleton.joint import Joint, LimitSettings
from ..skeleton.kinematics import Movers, find_movers, move_elements
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.errors import MeshFileError
from ..spatial.progress import Progress, ignore_progress, part_of
from ..spatial.transforms import Array, apply, invert
from .display import make_display_surfaces

TRIANGLES = 5000
"""An element is tried at this resolution."""
MOST_AT_ONCE = 4
_STILL = 1e-6
"""Motions that differ by less (radians, and shares of the skeleton's size) are the same: single precision's own."""


@dataclass(frozen=True, eq=False)
class Hit:
    """Two elements of which one runs into the other.

    depth_m : how much deeper than at neutral a point of the one is below the surface of the other
    neutral_m : how deep it is there at neutral already
    allowed_m : how much deeper it may be: the site's allowance; of the two elements of a joint what its limits allow
    place_m : (3,) of that point in the pose; places_m : (2, 3) the same in the frames of the two elements
    """

    elements: tuple[str, str]
    depth_m: float
    neutral_m: float
    allowed_m: float
    place_m: Array
    places_m: Array

    @property
    def fails(self) -> bool:
        """Whether it is deeper than it may be."""
        return self.depth_m > self.allowed_m

    @property
    def state(self) -> Literal["close", "fails"]:
        """In the words of the checks."""
        return "fails" if self.fails else "close"


@dataclass(frozen=True, eq=False)
class Clearance:
    """What runs into what in a pose, what fails first and the worst of that first.

    hits : of the elements of one joint only where they fail: what its limits allow is no hit
    tried : pairs of elements that were near enough to be tried
    """

    hits: tuple[Hit, ...]
    tried: int

    @property
    def failing(self) -> tuple[Hit, ...]:
        """The hits that are deeper than they may be."""
        return tuple(hit for hit in self.hits if hit.fails)


@dataclass(frozen=True, eq=False)
class PreparedClearance:
    """What all poses of a skeleton share.

    bodies : by source and volume, what was made ready of each element
    X_WE : (n, 4, 4) of the elements at neutral
    joined : (n, n) share of s that the limits of the joint between two elements allow them; NaN where there is none
    size_m : of the whole at neutral
    """

    skeleton: Skeleton
    bodies: Mapping[tuple[Source, float], ClearanceBody]
    crowd: Crowd
    movers: Movers
    X_WE: Array
    baseline: Baseline
    joined: Array
    size_m: float


@dataclass(frozen=True, eq=False)
class Tried:
    """A pose that was tried: motions (n, 4, 4) of the elements, and what overlaps in it; pairs : that were tried."""

    motions: Array
    pairs: Pairs
    overlaps: Overlaps


def prepare_clearance(
    skeleton: Skeleton,
    mesh_folder: Path,
    earlier: PreparedClearance | None = None,
    progress: Progress = ignore_progress,
) -> PreparedClearance:
    """Make every element ready from its file; what `earlier` holds of the same file, to the byte, is taken from there.

    Raises
    ------
    DocumentError : a file is missing, or is another than the skeleton was made from
    MeshFileError : a file cannot be read, or a surface has no area or no thickness
    """
    known = dict(earlier.bodies) if earlier is not None else {}
    new = [element for element in skeleton.elements if _key(element) not in known]
    require_files(new, mesh_folder, part_of(progress, 0.0, 0.05))
    surfaces = make_display_surfaces(new, mesh_folder, TRIANGLES, part_of(progress, 0.05, 0.2))
    known |= _prepare_bodies(new, surfaces, part_of(progress, 0.2, 0.9))
    progress("what overlaps at neutral", 0.9)
    return _prepare_neutral(skeleton, {_key(element): known[_key(element)] for element in skeleton.elements})


def _key(element: Element) -> tuple[Source, float]:
    return element.source, element.solid.volume_m3


def _prepare_bodies(
    elements: list[Element], surfaces: Mapping[str, Surface], progress: Progress
) -> dict[tuple[Source, float], ClearanceBody]:
    """Side by side: most of it is numpy's work, which threads share."""

    def make(element: Element) -> ClearanceBody:
        try:
            return prepare_body(surfaces[element.name], element.solid.volume_m3)
        except MeshFileError as error:
            raise MeshFileError(element.name, error.what, error.remedy) from error

    found = {}
    with ThreadPoolExecutor(max_workers=min(os.cpu_count() or 1, MOST_AT_ONCE)) as pool:
        try:
            for i, (element, body) in enumerate(zip(elements, pool.map(make, elements), strict=True)):
                progress(f"clearance of {element.name}", i / len(elements))
                found[_key(element)] = body
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise
    return found


def _prepare_neutral(skeleton: Skeleton, bodies: Mapping[tuple[Source, float], ClearanceBody]) -> PreparedClearance:
    crowd = gather_bodies([bodies[_key(element)] for element in skeleton.elements])
    X_WE = np.stack([element.X_WE for element in skeleton.elements])
    movers = find_movers(skeleton)
    pairs = _leave_fused(find_pairs(crowd, X_WE), movers)
    middles = np.einsum("nij,nj->ni", (X_WE @ crowd.X_EB)[:, :3, :3], crowd.middles_B) + X_WE[:, :3, 3]
    return PreparedClearance(
        skeleton=skeleton,
        bodies=bodies,
        crowd=crowd,
        movers=movers,
        X_WE=X_WE,
        baseline=find_baseline(crowd, X_WE, pairs),
        joined=_list_joined(skeleton),
        size_m=float(np.ptp(middles, axis=0).max()) + float(crowd.halves_m.max()),
    )


def _leave_fused(pairs: Pairs, movers: Movers) -> Pairs:
    """Pairs that can move against each other."""
    free: Pairs = pairs[movers.carriers[pairs[:, 0]] != movers.carriers[pairs[:, 1]]]
    return free


def _list_joined(skeleton: Skeleton) -> Array:
    """What the contact and the slide that its limits were searched with leave the two elements of a joint."""
    joined = np.full((len(skeleton.elements),) * 2, np.nan)
    for i, joint in enumerate(skeleton.joints, start=1):
        for other in (joint.parent, joint.also):
            if other is not None:
                k = skeleton.index(other)
                joined[i, k] = joined[k, i] = _share_of(joint)
    return joined


def _share_of(joint: Joint) -> float:
    settings = joint.settings or LimitSettings()
    return settings.contact_share_s + settings.slide_share_s


def try_pose(prepared: PreparedClearance, pose: Pose, before: Tried | None = None) -> Tried:
    """Find what overlaps in a pose; pairs that stand to each other as in `before` are not tried again.

    Raises
    ------
    SkeletonError : the pose turns what cannot turn
    """
    motions = move_elements(prepared.skeleton, prepared.movers, pose)
    X_WE = motions @ prepared.X_WE
    pairs = _leave_fused(find_pairs(prepared.crowd, X_WE), prepared.movers)
    if before is None:
        return Tried(motions, pairs, find_overlaps(prepared.crowd, X_WE, pairs, prepared.baseline))
    since = motions @ invert(before.motions)
    new = _find_moved(prepared, pairs, since)
    kept = before.overlaps
    stay = ~_find_moved(prepared, kept.pairs, since)
    if not new.any() and stay.all() and not _moves(prepared, since):
        return Tried(before.motions, pairs, kept)
    found = find_overlaps(prepared.crowd, X_WE, pairs[new], prepared.baseline)
    i = kept.pairs[stay, 0]
    carried = np.einsum("nij,nj->ni", since[i, :3, :3], kept.places_W[stay]) + since[i, :3, 3]
    old = Overlaps(kept.pairs[stay], kept.depths_m[stay], kept.forgiven_m[stay], carried)
    return Tried(motions, pairs, _join(old, found))


def _find_moved(prepared: PreparedClearance, pairs: Pairs, since: Array) -> NDArray[np.bool_]:
    """Whether the two of each pair have moved against each other."""
    apart = np.abs(since[pairs[:, 0], :3] - since[pairs[:, 1], :3])
    apart[:, :, 3] /= prepared.size_m
    moved: NDArray[np.bool_] = apart.reshape(len(pairs), 12).max(axis=1, initial=0.0) > _STILL
    return moved


def _moves(prepared: PreparedClearance, since: Array) -> bool:
    apart = np.abs(since[:, :3] - np.eye(4)[:3])
    apart[:, :, 3] /= prepared.size_m
    return bool(apart.max() > _STILL)


def _join(one: Overlaps, other: Overlaps) -> Overlaps:
    both = Overlaps(*(np.concatenate([getattr(one, k), getattr(other, k)]) for k in vars(one)))
    return both.take(np.lexsort((both.pairs[:, 1], both.pairs[:, 0])))


def list_hits(prepared: PreparedClearance, tried: Tried, site: Site) -> Clearance:
    """What was found in a pose, held against what is allowed."""
    overlaps, names = tried.overlaps, [element.name for element in prepared.skeleton.elements]
    i, j = overlaps.pairs.T
    sizes = np.minimum(prepared.crowd.sizes_m[i], prepared.crowd.sizes_m[j])
    joined = prepared.joined[i, j]
    partners = ~np.isnan(joined)
    allowed = np.where(partners, joined, site.clearance_share_s) * sizes
    beyond = overlaps.beyond_m - allowed
    shown = np.flatnonzero((beyond > 0) | ~partners)
    order = shown[np.lexsort((-overlaps.beyond_m[shown], -np.maximum(beyond[shown], 0)))]
    back = invert(tried.motions @ prepared.X_WE)
    hits = []
    for k in order.tolist():
        place, pair = overlaps.places_W[k], overlaps.pairs[k]
        places = np.concatenate([apply(back[own], place[None]) for own in pair])
        figures = (float(overlaps.beyond_m[k]), float(overlaps.forgiven_m[k]), float(allowed[k]))
        hits.append(Hit((names[pair[0]], names[pair[1]]), *figures, place, places))
    return Clearance(tuple(hits), len(tried.pairs))


def find_clearance(prepared: PreparedClearance, pose: Pose, site: Site) -> Clearance:
    """What runs into what in a pose."""
    return list_hits(prepared, try_pose(prepared, pose), site)


def is_prepared_for(prepared: PreparedClearance, skeleton: Skeleton) -> bool:
    """Whether what was made ready is of this skeleton: the same files, places, joints and settings."""
    return _describe(prepared.skeleton) == _describe(skeleton)


def _describe(skeleton: Skeleton) -> tuple[object, ...]:
    elements = [(own.name, *_key(own), own.X_WE.tobytes()) for own in skeleton.elements]
    joints = [
        (own.parent, own.child, own.also, own.moves, own.X_WJ.tobytes(), own.senses, own.settings)
        for own in skeleton.joints
    ]
    return (*elements, *joints)
