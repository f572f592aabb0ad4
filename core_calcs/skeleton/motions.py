"""A skeleton whose elements are moved, each by a rigid motion of its own; what is known of the joints goes along."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from ..spatial.transforms import Array, apply
from .joint import AxisLimit, Facet, Joint, Stop
from .tree import Skeleton, build_skeleton


def move_skeleton(skeleton: Skeleton, X_WE: Mapping[str, Array], motions: Mapping[str, Array]) -> Skeleton:
    """Every element elsewhere.

    Facets go with the element that they lie on, frames and places of limits with the parent, or with what straddles
    two; angles and gaps stay what they were.

    Parameters
    ----------
    X_WE : (4, 4) where each element is to stand
    motions : (4, 4) D of each, by which it comes there
    """
    elements = tuple(replace(element, X_WE=X_WE[element.name]) for element in skeleton.elements)
    joints = tuple(_move_joint(joint, motions) for joint in skeleton.joints)
    return build_skeleton(skeleton.name, elements, joints, skeleton.feet, skeleton.left_out)


def _move_joint(joint: Joint, motions: Mapping[str, Array]) -> Joint:
    D = motions[joint.parent if joint.also is None else joint.child]
    facets = tuple(move_facet(facet, motions[facet.element]) for facet in joint.facets)
    return replace(joint, X_WJ=D @ joint.X_WJ, limits=move_limits(joint.limits, D), facets=facets)


def move_limits(
    limits: tuple[AxisLimit, AxisLimit, AxisLimit] | None, D: Array
) -> tuple[AxisLimit, AxisLimit, AxisLimit] | None:
    """Limits whose places are moved by D (4, 4)."""
    if limits is None:
        return None
    flexion, lateral, axial = (AxisLimit(_move_stop(own.low, D), _move_stop(own.high, D)) for own in limits)
    return flexion, lateral, axial


def move_facet(facet: Facet, D: Array) -> Facet:
    """A facet moved by D (4, 4)."""
    return replace(
        facet,
        centroid_m=apply(D, facet.centroid_m[None])[0],
        normal=D[:3, :3] @ facet.normal,
        outline_m=None if facet.outline_m is None else apply(D, facet.outline_m),
    )


def _move_stop(stop: Stop, D: Array) -> Stop:
    return stop if stop.place_m is None else replace(stop, place_m=apply(D, stop.place_m[None])[0])
