"""Where elements stand for the sake of the discs between them, and where they would stand without."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..spatial.transforms import Array, round_places
from .element import Element
from .joint import AxisLimit, Facet, Joint, Stop
from .tree import Skeleton, build_skeleton


def find_disc_shifts(skeleton: Skeleton) -> dict[str, Array]:
    """By element, how far (3,) [m] the discs between it and the root have moved it in the world of neutral.

    What straddles two elements is moved by the mean of what moves these. All is on the grid of `round_places`.
    """
    found = {skeleton.root.name: np.zeros(3)}
    joints = {joint.child: joint for joint in skeleton.joints}
    turns = {element.name: element.X_WE[:3, :3] for element in skeleton.elements}

    def find(name: str) -> Array:
        if name not in found:
            joint = joints[name]
            shift = find(joint.parent)
            if joint.also is not None:
                shift = (shift + find(joint.also)) / 2
            if joint.disc is not None:
                shift = shift + turns[joint.parent] @ joint.disc.shift_m
            found[name] = round_places(shift)
        return found[name]

    return {element.name: find(element.name) for element in skeleton.elements}


def take_discs_out(skeleton: Skeleton) -> Skeleton:
    """Every element, with the facets on it and the joints on it, where it would stand had no disc been set.

    The joints keep what was said of their discs, so that `put_discs_in` brings the skeleton back.
    """
    return _move(skeleton, {name: -shift for name, shift in find_disc_shifts(skeleton).items()})


def put_discs_in(skeleton: Skeleton) -> Skeleton:
    """The skeleton that `take_discs_out` was given, from what it gave."""
    return _move(skeleton, find_disc_shifts(skeleton))


def move_joint(joint: Joint, by_m: Mapping[str, Array]) -> Joint:
    """A joint whose elements are moved by `by_m` (3,) each: its frame goes with the parent, or with what straddles two.

    Angles, gaps and what was said of its disc stay.
    """
    X_WJ = _shift_frame(joint.X_WJ, by_m[joint.parent if joint.also is None else joint.child])
    facets = tuple(_move_facet(facet, by_m[facet.element]) for facet in joint.facets)
    limits = joint.limits
    if limits is not None:
        by = by_m[joint.parent]
        flexion, lateral, axial = (AxisLimit(_move_stop(own.low, by), _move_stop(own.high, by)) for own in limits)
        limits = (flexion, lateral, axial)
    return replace(joint, X_WJ=X_WJ, facets=facets, limits=limits)


def settle_joint(joint: Joint, keep_frame: bool = False) -> Joint:
    """A joint that was found, its places and gaps to a picometre; keep_frame: but for the frame, given by the user."""
    facets = tuple(_settle_facet(facet) for facet in joint.facets)
    limits = joint.limits
    if limits is not None:
        flexion, lateral, axial = (AxisLimit(_settle_stop(own.low), _settle_stop(own.high)) for own in limits)
        limits = (flexion, lateral, axial)
    X_WJ = joint.X_WJ.copy()
    if not keep_frame:
        X_WJ[:3, 3] = round_places(X_WJ[:3, 3])
    return replace(joint, X_WJ=X_WJ, facets=facets, limits=limits)


def _move(skeleton: Skeleton, by_m: Mapping[str, Array]) -> Skeleton:
    if not any(np.any(shift) for shift in by_m.values()):
        return skeleton
    elements = tuple(_move_element(element, by_m[element.name]) for element in skeleton.elements)
    joints = tuple(move_joint(joint, by_m) for joint in skeleton.joints)
    return build_skeleton(skeleton.name, elements, joints, skeleton.feet, skeleton.left_out)


def _move_element(element: Element, by: Array) -> Element:
    return replace(element, X_WE=_shift_frame(element.X_WE, by)) if np.any(by) else element


def _shift_frame(X: Array, by: Array) -> Array:
    moved = X.copy()
    moved[:3, 3] = _shift(X[:3, 3], by)
    return moved


def _shift(places: Array, by: Array) -> Array:
    return round_places(places + by) if np.any(by) else places


def _move_facet(facet: Facet, by: Array) -> Facet:
    outline = None if facet.outline_m is None else _shift(facet.outline_m, by)
    return replace(facet, centroid_m=_shift(facet.centroid_m, by), outline_m=outline)


def _move_stop(stop: Stop, by: Array) -> Stop:
    return stop if stop.place_m is None else replace(stop, place_m=_shift(stop.place_m, by))


def _settle_facet(facet: Facet) -> Facet:
    outline = None if facet.outline_m is None else round_places(facet.outline_m)
    gap = float(round_places(facet.gap_m))
    return replace(facet, centroid_m=round_places(facet.centroid_m), gap_m=gap, outline_m=outline)


def _settle_stop(stop: Stop) -> Stop:
    return stop if stop.place_m is None else replace(stop, place_m=round_places(stop.place_m))
