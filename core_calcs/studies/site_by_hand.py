"""What the user says of the site: the ground, what acts there, and with which factors."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from ..document.document import SkeletonDocument
from ..document.editing import set_site
from ..document.meshes import require_files
from ..mesh.element_surface import read_element
from ..site.actions import DEFAULT_N, ActionKind, Footing, PointAction
from ..site.consistency import check_site, propose_action_name
from ..skeleton.tree import Skeleton
from ..spatial.errors import SiteError
from ..spatial.transforms import Array, apply, invert
from .site_names import Spot


def change_site(document: SkeletonDocument, **changes: Any) -> SkeletonDocument:
    """The document with a site that says otherwise; SiteError where it cannot be."""
    site = replace(document.site, **changes)
    check_site(site, document.skeleton)
    return set_site(document, site)


def add_action(document: SkeletonDocument, action: PointAction) -> SkeletonDocument:
    """The document with an action more, last; SiteError where it cannot be, or its name is taken."""
    if any(own.name == action.name for own in document.site.actions):
        raise SiteError(f"action {action.name}", "an action of that name is there", "choose another name")
    return change_site(document, actions=(*document.site.actions, action))


def remove_action(document: SkeletonDocument, name: str) -> SkeletonDocument:
    """The document without an action; SiteError where there is none of that name."""
    kept = tuple(action for action in document.site.actions if action.name != name)
    if len(kept) == len(document.site.actions):
        known = ", ".join(action.name for action in kept) or "none"
        raise SiteError(f"action {name}", "there is none of that name", f"there is: {known}")
    return change_site(document, actions=kept)


def set_footing(document: SkeletonDocument, footing: Footing) -> SkeletonDocument:
    """The document with what is under a foot, in the place of what was said before; SiteError where it cannot be."""
    kept = {own.foot: own for own in document.site.footings} | {footing.foot: footing}
    return change_site(document, footings=tuple(kept.values()))


def remove_footing(document: SkeletonDocument, foot: str) -> SkeletonDocument:
    """The document with nothing special under a foot; SiteError where nothing was said of it."""
    kept = tuple(footing for footing in document.site.footings if footing.foot != foot)
    if len(kept) == len(document.site.footings):
        known = ", ".join(footing.foot for footing in kept) or "none"
        raise SiteError(f"footing of {foot}", "nothing is said of it", f"footings there are: {known}")
    return change_site(document, footings=kept)


def make_action(
    document: SkeletonDocument,
    kind: ActionKind,
    element: str,
    point_m: Array,
    force_N: float | None = None,
    direction: Array | None = None,
    name: str = "",
) -> PointAction:
    """An action at a point (3,) of an element's frame; its usual force and a free name where none is given.

    direction : (3,) world, any length; None: see `PointAction`

    Raises
    ------
    SiteError : the direction has no length
    """
    unit = None
    if direction is not None:
        length = float(np.linalg.norm(direction))
        if not (np.isfinite(length) and length > 0):
            raise SiteError("direction", "it has no length", "give three numbers, not all 0")
        x, y, z = (np.asarray(direction, float) / length).tolist()
        unit = (x, y, z)
    x, y, z = np.asarray(point_m, float).tolist()
    force = DEFAULT_N[kind] if force_N is None else force_N
    return PointAction(
        name.strip() or propose_action_name(document.site, kind, element), kind, element, (x, y, z), force, unit
    )


def find_spot(document: SkeletonDocument, element: str, spot: Spot, mesh_folder: Path) -> Array:
    """(3,) a point of an element's full-resolution surface, in its frame E.

    Of the neutral articulation: the highest or lowest point, that farthest to the animal's left or right, or the tip:
    farthest from its joint, of the root from its middle.

    Raises
    ------
    SkeletonError : there is no such element
    DocumentError : its mesh file is missing or no longer as the document records it
    MeshFileError : it cannot be read
    """
    skeleton = document.skeleton
    own = skeleton.elements[skeleton.index(element)]
    require_files([own], mesh_folder)
    source = own.source
    vertices = read_element(mesh_folder, source.file, source.body, source.unit_m).vertices
    world = apply(own.X_WE, vertices)
    if spot == "tip":
        reach = np.linalg.norm(vertices - _find_base(skeleton, element), axis=1)
    else:
        axis, sense = {"highest": (2, 1), "lowest": (2, -1), "left": (1, 1), "right": (1, -1)}[spot]
        reach = sense * world[:, axis]
    point: Array = vertices[int(reach.argmax())]
    return point


def _find_base(skeleton: Skeleton, element: str) -> Array:
    """(3,) the joint of an element in its frame; of the root the middle of its bounding box."""
    i = skeleton.index(element)
    own = skeleton.elements[i]
    if i == 0:
        return np.asarray((own.solid.lower_m + own.solid.upper_m) / 2, float)
    base: Array = apply(invert(own.X_WE), skeleton.joints[i - 1].X_WJ[None, :3, 3])[0]
    return base
