"""The discs of a column as closed surfaces with known volumes, at neutral."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ..articulation.disc_surfaces import make_disc_surface
from ..articulation.facets import Patch
from ..articulation.known_facets import take_outlined
from ..articulation.motions import move_patch, move_rigidly
from ..articulation.rim_heights import RimHeights, measure_heights
from ..document.document import SkeletonDocument
from ..document.meshes import require_files
from ..mesh.mass_properties import measure_polyhedron
from ..mesh.surface import Surface
from ..skeleton.joint import Facet, Joint
from ..skeleton.motions import move_facet
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import Array, invert
from .loose_facets import prepare_element


@dataclass(frozen=True, eq=False)
class DiscSurface:
    """A disc in a joint.

    child, parent : of the joint
    surface : closed, wound outwards, world of the neutral articulation [m]
    gap_m : mean gap of the end plates
    heights : how high it is at its ventral and dorsal rim; None where the joint's zygapophyses do not tell its back
    """

    child: str
    parent: str
    surface: Surface
    volume_m3: float
    gap_m: float
    heights: RimHeights | None


def make_disc_surfaces(
    document: SkeletonDocument,
    mesh_folder: Path,
    children: Sequence[str] = (),
    progress: Progress = ignore_progress,
) -> tuple[DiscSurface, ...]:
    """The discs in the joints of some elements; none named: of all joints between end plates that leave a gap.

    Raises
    ------
    SkeletonError : no such joint, one without end plates or whose end plates touch; there are none at all
    DocumentError, MeshFileError : files are missing, or others than the document was made from
    """
    skeleton = document.skeleton
    if children:
        joints = [skeleton.joint_of(child) for child in children]
    else:
        joints = [joint for joint in skeleton.joints if _list_plates(joint) and (joint.gap_m or 0.0) > 0]
    if not joints:
        raise SkeletonError(skeleton.name, "no joint between end plates leaves a gap", "set the discs' thickness first")
    names = {name for joint in joints for name in (joint.parent, joint.child)}
    require_files([skeleton.elements[skeleton.index(name)] for name in sorted(names)], mesh_folder)
    found = []
    for k, joint in enumerate(joints):
        progress(f"disc of {joint.child}", k / len(joints))
        found.append(_make(skeleton, joint, mesh_folder))
    return tuple(found)


def _list_plates(joint: Joint) -> tuple[Facet, Facet] | None:
    """The end plates on the parent and on the child, with their rims; None where one is lacking."""
    by_element = {plate.element: plate for plate in joint.end_plates if plate.outline_m is not None}
    if by_element.keys() != {joint.parent, joint.child}:
        return None
    return by_element[joint.parent], by_element[joint.child]


def _make(skeleton: Skeleton, joint: Joint, mesh_folder: Path) -> DiscSurface:
    plates = _list_plates(joint)
    if plates is None:
        what = "it has no end plates whose rims are known, so that no disc is known there"
        raise SkeletonError(f"joint of {joint.child}", what, "name a joint between vertebrae")
    on_parent, on_child = (_take(skeleton, plate, mesh_folder) for plate in plates)
    rims: list[Array] = [plate.outline_m for plate in plates if plate.outline_m is not None]
    surface = make_disc_surface(on_parent, on_child, (rims[0], rims[1]))
    volume = measure_polyhedron(surface).volume_m3
    heights = _measure_heights(joint, on_parent, on_child)
    return DiscSurface(joint.child, joint.parent, surface, volume, joint.gap_m or 0.0, heights)


def _measure_heights(joint: Joint, on_parent: Patch, on_child: Patch) -> RimHeights | None:
    upper = [facet.centroid_m for facet in joint.facets if facet.kind.endswith("zygapophysis")]
    if not upper:
        return None
    back = np.mean(upper, axis=0) - (on_parent.points.mean(axis=0) + on_child.points.mean(axis=0)) / 2
    return measure_heights(on_parent, on_child, back)


def _take(skeleton: Skeleton, plate: Facet, mesh_folder: Path) -> Patch:
    """The samples of an end plate in the world."""
    element = skeleton.elements[skeleton.index(plate.element)]
    ready = prepare_element(element, mesh_folder)
    patch = take_outlined(ready, move_facet(plate, invert(element.X_WE)))
    if patch is None:
        what = "little of its surface lies within the outline of its end plate"
        raise SkeletonError(plate.element, what, "search for the joint again")
    return replace(move_patch(patch, move_rigidly(ready, element.X_WE), element.X_WE), gap_m=plate.gap_m)
