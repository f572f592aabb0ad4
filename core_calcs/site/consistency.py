"""Whether what is said of the site can be, and is about what is there."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ..skeleton.element import Element
from ..skeleton.tree import Foot, Skeleton
from ..spatial.errors import SiteError, SkeletonError
from .actions import DEFAULT_N, ActionKind, Factors, Footing, PointAction, Wind
from .site import Site

_UNIT = 1e-6
"""Of a direction's length."""


def check_site(site: Site, skeleton: Skeleton) -> None:
    """Raise SiteError for the first thing that is not right: what, and what to do."""
    _refuse_negative(site.friction, "friction", "give a coefficient of 0 or more")
    if not 4 <= site.directions <= 360:
        raise SiteError("directions", f"there are {site.directions} of them", "give 4 to 360, all round")
    if site.wind is not None:
        check_wind(site.wind)
    check_factors(site.factors)
    _refuse_twice([action.name for action in site.actions], "action")
    _refuse_twice([footing.foot for footing in site.footings], "footing of")
    for action in site.actions:
        check_action(action, skeleton)
    for footing in site.footings:
        check_footing(footing, skeleton)


def check_wind(wind: Wind) -> None:
    """Raise SiteError where a pressure is below 0, a coefficient not above it, or either is not finite."""
    _refuse_negative(wind.pressure_Pa, "wind pressure", "give the peak velocity pressure, 0 for none")
    _refuse_zero(wind.force_coefficient, "force coefficient of the wind", "give 1.2 for round members, 2 for plates")


def check_factors(factors: Factors) -> None:
    """Raise SiteError where a factor is 0, below it or not finite, a share or a reduction is above 1."""
    for name, value in vars(factors).items():
        if name != "accompanying":
            _refuse_zero(value, f"factor {name.replace('_', ' ')}", "give a factor above 0, 1 for none")
    if not 0 <= factors.accompanying <= 1:
        what = f"{factors.accompanying:g} is no share"
        raise SiteError("factor accompanying", what, "give 0 to 1, 1 for all actions in full")
    if factors.reduction > 1:
        what = f"{factors.reduction:g} does not reduce"
        raise SiteError("factor reduction", what, "give more than 0 up to 1, 1 for expression (6.10)")


def check_footing(footing: Footing, skeleton: Skeleton) -> None:
    """Raise SiteError where there is no such foot, or what is said of it cannot be."""
    where = f"footing of {footing.foot}"
    if footing.foot not in {foot.name for foot in skeleton.feet}:
        known = ", ".join(foot.name for foot in skeleton.feet) or "none"
        raise SiteError(where, "nothing of that name touches the ground", f"these do: {known}")
    if not math.isfinite(footing.height_m):
        raise SiteError(where, f"its height is {footing.height_m}", "give a height above the site's ground")
    _refuse_negative(footing.friction, f"{where}: friction", "give a coefficient of 0 or more")
    if footing.stiffness_N_m is not None:
        _refuse_zero(footing.stiffness_N_m, f"{where}: stiffness", "give one above 0, or none")
    if footing.anchor_N is not None:
        _refuse_zero(footing.anchor_N, f"{where}: tension of its anchors", "give one above 0, or none")
        if not footing.anchored:
            raise SiteError(where, "its anchors hold a tension, but it is not anchored", "anchor it, or give none")


def check_action(action: PointAction, skeleton: Skeleton) -> None:
    """Raise SiteError where the element is not there, the point is not on it, or the force is none."""
    where = f"action {action.name}"
    if not action.name.strip():
        raise SiteError("action", "its name is empty", "give it a name")
    if action.kind not in DEFAULT_N:
        raise SiteError(where, f"{action.kind!r} is no kind of action", f"give one of: {', '.join(DEFAULT_N)}")
    try:
        element = skeleton.elements[skeleton.index(action.element)]
    except SkeletonError as error:
        raise SiteError(where, f"there is no element {action.element!r}", error.remedy) from error
    _refuse_zero(action.force_N, f"{where}: force", "give a force above 0; the direction says which way")
    _check_point(where, element, action.point_m)
    if action.direction is None:
        return
    if action.kind == "person":
        raise SiteError(where, "a person's weight acts straight down", "give no direction, or make it a pull")
    length = float(np.linalg.norm(action.direction))
    if not abs(length - 1) <= _UNIT:
        raise SiteError(where, f"its direction has the length {length:.4g}", "give a unit vector")


def _check_point(where: str, element: Element, point_m: Sequence[float]) -> None:
    lower, upper = np.asarray(element.solid.lower_m), np.asarray(element.solid.upper_m)
    point = np.asarray(point_m, float)
    if not np.isfinite(point).all():
        raise SiteError(where, "its point is not finite", f"give a point on {element.name}")
    away = float(np.linalg.norm(point - np.clip(point, lower, upper)))
    size = float(np.linalg.norm(upper - lower))
    if away > size:
        what = f"its point is {away:.3g} m off {element.name}, which is {size:.3g} m large"
        raise SiteError(where, what, "give a point on the element, in its own frame")


def keep_footings(site: Site, feet: Sequence[Foot]) -> tuple[Footing, ...]:
    """The footings of the feet that are there."""
    names = {foot.name for foot in feet}
    return tuple(footing for footing in site.footings if footing.foot in names)


def propose_action_name(site: Site, kind: ActionKind, element: str) -> str:
    """The first name that is free: such as `push on C1`, `push on C1 2`."""
    taken = {action.name for action in site.actions}
    number = 1
    while (name := f"{kind} on {element}" + (f" {number}" if number > 1 else "")) in taken:
        number += 1
    return name


def _refuse_twice(names: Sequence[str], what: str) -> None:
    for i, name in enumerate(names):
        if name in names[:i]:
            raise SiteError(f"{what} {name}", "it is there twice", "rename or remove one of them")


def _refuse_negative(value: float | None, where: str, remedy: str) -> None:
    if value is not None and not (math.isfinite(value) and value >= 0):
        raise SiteError(where, f"it is {value:g}", remedy)


def _refuse_zero(value: float, where: str, remedy: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise SiteError(where, f"it is {value:g}", remedy)
