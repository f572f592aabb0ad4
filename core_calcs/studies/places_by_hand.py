"""Elements placed by the user in a document, and how far they stand from their scans."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.spatial.transform import Rotation

from ..articulation.places_by_hand import is_free, place_element, restore_place, scanned_place, straddle
from ..document.document import SkeletonDocument
from ..skeleton.element import Element
from ..skeleton.joint import Joint
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, apply, invert, make_transform

_ROUNDING = 1e-12
"""Metres and radians below which nothing was meant."""


@dataclass(frozen=True, eq=False)
class Placed:
    """How far an element that was placed by hand stands from its scan.

    shift_m : (3,) of its centre of volume; world of the neutral articulation, as axis
    axis, angle_rad : (3,) unit axis and right-handed angle of its turn, 0 to pi; the axis of no turn is x
    """

    element: str
    parent: str
    shift_m: Array
    axis: Array
    angle_rad: float
    reason: str


def place_in_document(document: SkeletonDocument, name: str, X_WE: ArrayLike, reason: str) -> SkeletonDocument:
    """The document with an element, and all that hangs on it, in another place; poses keep their angles.

    See `articulation.places_by_hand.place_element`.
    """
    return replace(document, skeleton=place_element(document.skeleton, name, X_WE, reason))


def restore_in_document(document: SkeletonDocument, name: str) -> SkeletonDocument:
    """The document with an element, and all that hangs on it, back to where it was scanned against its parent."""
    return replace(document, skeleton=restore_place(document.skeleton, name))


def straddle_in_document(document: SkeletonDocument, child: str, also: str | None) -> SkeletonDocument:
    """The document with a fixed element that follows a second one too, half and half; None: its parent alone."""
    return replace(document, skeleton=straddle(document.skeleton, child, also))


def list_placed(skeleton: Skeleton) -> tuple[Placed, ...]:
    """Every element that was placed by hand, in the order of the skeleton."""
    return tuple(_measure(skeleton, joint) for joint in skeleton.joints if joint.placing is not None)


def list_free(skeleton: Skeleton) -> tuple[str, ...]:
    """Names of the elements that may be placed by hand, in the order of the skeleton."""
    return tuple(joint.child for joint in skeleton.joints if is_free(joint))


def move_and_turn(
    skeleton: Skeleton,
    name: str,
    shift_m: ArrayLike = (0, 0, 0),
    axis: ArrayLike = (1, 0, 0),
    angle_rad: float = 0.0,
    about_m: ArrayLike | None = None,
) -> Array:
    """(4, 4) X_WE of an element turned about an axis and then moved, from where it stands.

    Parameters
    ----------
    shift_m, axis : (3,) in the world of the neutral articulation; the axis of any length but none
    angle_rad : by the right-hand rule
    about_m : (3,) a point of the axis in that world; None: the element's centre of volume

    Raises
    ------
    SkeletonError : no such element, an axis without direction, a number that is not finite
    """
    element = skeleton.elements[skeleton.index(name)]
    point = _centre(element.X_WE, element.solid.centre_m) if about_m is None else np.asarray(about_m, float)
    shift, direction = np.asarray(shift_m, float), np.asarray(axis, float)
    if not (np.isfinite([*point, *shift, *direction, angle_rad]).all() and np.linalg.norm(direction) > 0):
        raise SkeletonError(name, "its move or turn is not finite, or its axis has no direction", "give it again")
    R = Rotation.from_rotvec(angle_rad * direction / np.linalg.norm(direction)).as_matrix()
    X_WE: Array = make_transform(R, point - R @ point + shift) @ element.X_WE
    return X_WE


def find_place(
    element: Element, X_seen: ArrayLike, X_drawn: ArrayLike, motion: ArrayLike, finest_m: float, finest_rad: float
) -> Array:
    """(4, 4) X_WE in the neutral articulation, for an element to stand in a pose where it is seen.

    Parameters
    ----------
    X_seen, X_drawn : (4, 4) of one frame at the element's centre of volume, nearly rigid: where it is seen in the pose,
        and where the pose would draw it [m]
    motion : (4, 4) of its parent from the neutral articulation to the pose
    finest_m, finest_rad : a move or turn below this is none: what a drawing in single precision leaves open

    Returns
    -------
    The element's own X_WE where it is neither moved nor turned.
    """
    D = (
        invert(motion)
        @ np.asarray(X_seen, float)
        @ np.linalg.inv(np.asarray(X_drawn, float))
        @ np.asarray(motion, float)
    )
    centre = _centre(element.X_WE, element.solid.centre_m)
    shift, turn = apply(D, centre[None])[0] - centre, Rotation.from_matrix(D[:3, :3])
    moved, turned = bool(np.linalg.norm(shift) > finest_m), bool(turn.magnitude() > finest_rad)
    if not (moved or turned):
        return element.X_WE
    R = turn.as_matrix() if turned else np.eye(3)
    X_WE: Array = make_transform(R, centre - R @ centre + (shift if moved else 0.0)) @ element.X_WE
    return X_WE


def describe_placed(placed: Placed) -> str:
    """How far from its scan an element stands, in words, and why."""
    return f"{measure_placed(placed)}: {placed.reason}"


def measure_placed(placed: Placed) -> str:
    """How far from its scan an element stands, in words."""
    parts = []
    if (far := float(np.linalg.norm(placed.shift_m))) > 0:
        x, y, z = (1000 * placed.shift_m).round(1) + 0.0
        parts.append(f"moved by {1000 * far:.1f} mm (x {x:g}, y {y:g}, z {z:g})")
    if placed.angle_rad > 0:
        x, y, z = placed.axis.round(2) + 0.0
        parts.append(f"turned by {math.degrees(placed.angle_rad):.1f}° about ({x:g}, {y:g}, {z:g})")
    return " and ".join(parts) or "where it was scanned"


def _measure(skeleton: Skeleton, joint: Joint) -> Placed:
    element, scanned = skeleton.elements[skeleton.index(joint.child)], scanned_place(skeleton, joint)
    shift = _centre(element.X_WE, element.solid.centre_m) - _centre(scanned, element.solid.centre_m)
    turn = Rotation.from_matrix(element.X_WE[:3, :3] @ scanned[:3, :3].T).as_rotvec()
    angle = float(np.linalg.norm(turn))
    shift[np.abs(shift) < _ROUNDING] = 0.0
    if angle < _ROUNDING:
        turn, angle = np.array([1.0, 0.0, 0.0]), 0.0
    axis = turn / np.linalg.norm(turn)
    reason = joint.placing.reason if joint.placing else ""
    return Placed(joint.child, joint.parent, shift, axis, angle, reason)


def _centre(X: Array, centre: Array) -> Array:
    place: Array = apply(X, np.asarray(centre, float)[None])[0]
    return place
