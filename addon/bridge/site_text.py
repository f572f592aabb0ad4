"""What is said of the site and what acts there, in words, ready to be shown."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import bpy

from ..core_calcs.handover.site_text import word_footing
from ..core_calcs.site.actions import Factors, Footing, PointAction
from ..core_calcs.site.site import Site
from ..core_calcs.skeleton.tree import Skeleton
from ..translations.phrases import name_language, say, tell
from .figures import drawn_live
from .units import NOT_KNOWN, Units, scene_units, word_length, word_quantity


@dataclass(frozen=True)
class FootingFigure:
    """What is under one foot; said: whether anything is, so that it can be taken back."""

    foot: str
    text: str
    said: bool


@dataclass(frozen=True)
class ActionFigure:
    """An action: its name, then force, direction and place."""

    name: str
    kind: str
    text: str


@dataclass(frozen=True)
class SiteFigures:
    """The site in words.

    ground, wind, factors : rows of name and value; changed : whether factors are other than the usual ones
    """

    ground: tuple[tuple[str, str], ...]
    wind: tuple[tuple[str, str], ...]
    factors: tuple[tuple[str, str], ...]
    changed: bool
    footings: tuple[FootingFigure, ...]
    actions: tuple[ActionFigure, ...]


_worded: dict[tuple[str, Units], SiteFigures] = {}
"""The last one, by the document's digest and the units."""


def drawn_site(scene: bpy.types.Scene) -> SiteFigures | None:
    """The site of the document as it was last read; to draw. None: not read yet."""
    kept, units = drawn_live(scene)[0], scene_units(scene)
    if kept is None:
        return None
    key = (kept.digest, units, name_language())
    if key not in _worded:
        _worded.clear()
        _worded[key] = word_site(kept.document.site, kept.document.skeleton, units)
    return _worded[key]


def word_site(site: Site, skeleton: Skeleton, units: Units) -> SiteFigures:
    """A site in words and units."""
    friction = tell(NOT_KNOWN) if site.friction is None else f"{site.friction:g}"
    wind = ((say("Wind"), say("none")),)
    if site.wind is not None:
        wind = (
            (say("Pressure"), f"{site.wind.pressure_Pa:g} Pa"),
            (say("Force coefficient"), say("{factor} on the silhouette", factor=f"{site.wind.force_coefficient:g}")),
        )
    word = partial(_word_figure, units)
    said = {footing.foot: footing for footing in site.footings}
    return SiteFigures(
        ground=((say("Height"), word_length(site.ground_m, units)), (say("Friction"), friction)),
        wind=(*wind, (say("Directions"), str(site.directions))),
        factors=word_factors(site.factors),
        changed=site.factors != Factors(),
        footings=tuple(
            FootingFigure(
                foot.name, tell(word_footing(said.get(foot.name, Footing(foot.name)), word)), foot.name in said
            )
            for foot in skeleton.feet
        ),
        actions=tuple(ActionFigure(own.name, own.kind, _word_action(own, units)) for own in site.actions),
    )


def word_factors(factors: Factors) -> tuple[tuple[str, str], ...]:
    """The factors as EN 1990 calls them, each with its value."""
    return (
        (say("Permanent, Unfavourable"), f"{factors.permanent_against:g}"),
        (say("Permanent, Favourable"), f"{factors.permanent_for:g}"),
        (say("Variable, Unfavourable"), f"{factors.variable_against:g}"),
        (say("Combination ψ₀"), f"{factors.accompanying:g}"),
        (say("Resistance"), f"{factors.resistance:g}"),
        (say("STR Permanent, Unfavourable"), f"{factors.strength_against:g}"),
        (say("STR Permanent, Favourable"), f"{factors.strength_for:g}"),
        (say("STR Variable, Unfavourable"), f"{factors.strength_variable:g}"),
        (say("Reduction ξ"), f"{factors.reduction:g}"),
    )


def drawn_wind(scene: bpy.types.Scene) -> str:
    """What the live pose shows to the wind, in words; empty where no wind is set."""
    kept, live = drawn_live(scene)
    if kept is None or live is None or kept.document.site.wind is None:
        return ""
    shown = live.shown
    if shown is None:
        return say("Not known in the live pose: its silhouettes are not measured.")
    most = shown.areas.area_m2.argmax()
    area, bare = (f"{own[most]:.3g} m²" for own in (shown.areas.area_m2, shown.areas.unshielded_m2))
    if not shown.missing_share:
        return say("Largest silhouette of the live pose {area}; unshielded {bare}.", area=area, bare=bare)
    return say(
        "Largest silhouette of the live pose {area}; unshielded {bare}; up to {percent} % of an element is left out.",
        area=area,
        bare=bare,
        percent=f"{100 * shown.missing_share:.1f}",
    )


def _word_figure(units: Units, value: float, unit: str) -> str:
    return word_length(value, units) if unit == "m" else word_quantity(value, unit, units)


def _word_action(action: PointAction, units: Units) -> str:
    force = word_quantity(action.force_N, "N", units)
    if action.kind == "person":
        return say("{force} down on {element}", force=force, element=action.element)
    if action.direction is None:
        return say("{force} horizontal, in the worst direction, on {element}", force=force, element=action.element)
    way = ", ".join(f"{part:.2g}" for part in action.direction)
    return say("{force} along {direction} on {element}", force=force, direction=way, element=action.element)
