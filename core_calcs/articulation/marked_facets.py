"""Facets marked by hand: faces of an element's file, as the user painted them, and the joint that they tell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..mesh.samples import Samples, sample_surface
from ..mesh.surface import Surface
from ..skeleton.element import Side
from ..skeleton.joint import Joint, JointFamily, LimitSettings
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress, ignore_progress
from .families import fit_marked
from .frames import JointFrame
from .limb_facets import Facing, find_cores, looks_outwards
from .limb_joint import make_limb_joint
from .partner import Partner
from .patches import Index, split_patches

_LEAST_SAMPLES = 40
_SECOND_SHARE = 0.3
_NEAR_S = 0.3


def read_faces(text: str, where: str) -> NDArray[np.int64]:
    """Numbers of faces, counted from 0, of a text such as "0-17, 25, 40-99".

    Raises
    ------
    SkeletonError : it is no such text
    """
    faces: list[int] = []
    for part in text.replace(" ", "").split(","):
        ends = part.split("-")
        if len(ends) > 2 or not all(end.isascii() and end.isdigit() for end in ends) or int(ends[0]) > int(ends[-1]):
            raise SkeletonError(where, f"{part[:40]!r} names no faces", "write numbers and ranges: 0-17, 25, 40-99")
        faces.extend(range(int(ends[0]), int(ends[-1]) + 1))
    return np.unique(np.array(faces, np.int64))


def write_faces(faces: NDArray[np.int64]) -> str:
    """The shortest such text of numbers of faces."""
    ordered = np.unique(faces)
    runs = np.split(ordered, np.flatnonzero(np.diff(ordered) > 1) + 1)
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs if len(run))


def take_marked(samples: Samples, raw: Surface, faces: NDArray[np.int64], where: str) -> Index:
    """Samples of an element that lie on the marked faces of its file as that is written, before any repair.

    Raises
    ------
    SkeletonError : the file has no such face, or so few samples lie on the marked ones that nothing can be fitted
    """
    if not len(faces) or faces[-1] >= len(raw.faces):
        what = (
            f"a marked face has the number {int(faces[-1]) if len(faces) else '(none)'}; the file has {len(raw.faces)}"
        )
        raise SkeletonError(where, what, "mark the facet again on this file")
    spread = sample_surface(raw, samples.spacing / 2, at_most=400_000)
    corners = raw.vertices[raw.faces]
    points = np.concatenate([spread.points, corners.mean(axis=1)])
    triangles = np.concatenate([spread.triangles, np.arange(len(corners))])
    marked = np.zeros(len(corners), bool)
    marked[faces] = True
    nearest = np.asarray(cKDTree(points).query(samples.points)[1], np.int64)
    index = np.flatnonzero(marked[triangles[nearest]])
    if len(index) < _LEAST_SAMPLES:
        what = (
            f"the marked facet is too small: {len(index)} of the element's samples lie on it, "
            f"{_LEAST_SAMPLES} are needed"
        )
        raise SkeletonError(where, what, "mark more of it")
    return index


def find_marked_joint(
    parent: Partner,
    child: Partner,
    marked: Mapping[str, Index],
    family: JointFamily | None,
    side: Side,
    settings: LimitSettings,
    placed: JointFrame | None = None,
    progress: Progress = ignore_progress,
) -> Joint:
    """The joint told by a facet that was marked by hand on one bone, or by one on each.

    Nothing is grown: the facet is what was marked. Where one bone has none, what of it lies nearest stands for it.

    Parameters
    ----------
    marked : samples by the name of the element, of at least one of the two
    family : the joint's, where the user says it; None: the plainest that fits
    placed : the frame that the user has given it; None: the one that its surfaces tell
    """
    facings = {bone.name: _face(bone, marked[bone.name]) for bone in (parent, child) if bone.name in marked}
    for bone, other in ((parent, child), (child, parent)):
        if bone.name not in facings:
            facings[bone.name] = find_cores(bone, other) or _take_nearest(bone, facings[other.name])
    standing_out = max((facings[name] for name in marked), key=looks_outwards)
    partner = next(facing for facing in facings.values() if facing is not standing_out)
    found = fit_marked(standing_out, partner, family)
    share = sum(map(len, found.pieces)) / len(standing_out.index)
    told = f"from a facet marked by hand, of which {share:.0%} lies on the surface: "
    return make_limb_joint(parent, child, found, side, settings, told, placed, progress)


def _face(bone: Partner, index: Index) -> Facing:
    """The marked samples; in two pieces where there are two of like size."""
    pieces = split_patches(bone.samples, index)
    kept: Sequence[Index] = [piece for piece in pieces[:2] if len(piece) >= _SECOND_SHARE * len(pieces[0])]
    kept = [piece for piece in kept if len(piece) >= _LEAST_SAMPLES] or [index]
    return Facing(bone, tuple(np.sort(piece) for piece in kept), 0.0)


def _take_nearest(bone: Partner, facing: Facing) -> Facing:
    other = facing.bone.samples.points[facing.index]
    distance = np.asarray(cKDTree(other).query(bone.samples.points)[0])
    near = np.flatnonzero(distance <= distance.min() + _NEAR_S * bone.size)
    return Facing(bone, (near,), float(distance[near].mean()))


def transfer_faces(raw: Surface, proxy: Surface, chosen: NDArray[np.int64], where: str) -> NDArray[np.int64]:
    """Faces of a surface whose middles lie nearest to chosen faces of a simpler one, both in one frame.

    Raises
    ------
    SkeletonError : nothing is chosen, or no face lies there
    """
    if not len(chosen):
        raise SkeletonError(where, "no face of it is selected", "select the faces of the facet")
    corners = proxy.vertices[proxy.faces]
    spread = sample_surface(proxy, np.inf, at_least=20_000)
    points = np.concatenate([spread.points, corners.mean(axis=1)])
    triangles = np.concatenate([spread.triangles, np.arange(len(corners))])
    marked = np.zeros(len(corners), bool)
    marked[chosen] = True
    nearest = np.asarray(cKDTree(points).query(raw.vertices[raw.faces].mean(axis=1))[1], np.int64)
    faces = np.flatnonzero(marked[triangles[nearest]])
    if not len(faces):
        raise SkeletonError(where, "no face of its file lies under the selected ones", "select more of it")
    return faces
