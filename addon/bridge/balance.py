"""What is drawn over the view of how the live pose stands: plain arrays in the scene's co-ordinates.

Asked for at every drawing of a view: what was made for a studied pose is kept until that or a setting changes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import bpy
import numpy as np

from ..core_calcs.site.site import GRAVITY, Site
from ..core_calcs.studies.assessment import Assessment, FootLoad
from ..core_calcs.studies.chains import list_links, measure_moments
from ..core_calcs.studies.support import place_corners
from ..translations.phrases import capitalise, say, tell
from .balance_text import find_governing, find_standing
from .figures import Studied, drawn_live
from .frames import Array, scene_scale
from .kept_document import KeptDocument
from .posed_facets import is_in_sight
from .units import Units, scene_units, word_length, word_quantity

ARROWS = 0.45
"""An arrow of the whole weight is about this share of the skeleton's size."""

NO_POLYGON = ("touches no ground", "on one point: nothing keeps it from tipping", "on a line: nothing keeps it upright")
"""By how many corners the support has."""


@dataclass(frozen=True, eq=False)
class DrawnSupport:
    """How it stands. state : holds, close, fails, not known.

    centre, ground : (3,) centre of mass, and the point below it
    polygon : (k, 3) corners of the support; fewer than three: it stands on none
    edge : (2, 3) that is nearest, None without a polygon
    reach : (2, 3) from the ground point across to the edge's line
    beyond : (2, 3) from the edge's nearer end to where `reach` ends, None where that is on the edge
    text : the margin in words
    """

    state: str
    centre: Array
    ground: Array
    polygon: Array
    edge: Array | None
    reach: Array | None
    beyond: Array | None
    text: str


@dataclass(frozen=True, eq=False)
class DrawnReaction:
    """What one foot takes: an arrow to tip (3,) from tail (3,), upwards where the ground pushes.

    span : (2, 3) where it may begin on a rigid base; None where that is not known
    """

    tip: Array
    tail: Array
    span: Array | None
    text: str


@dataclass(frozen=True, eq=False)
class DrawnMoments:
    """Moments along the chains: lines (s, 2, 3), (s, 2) share of `top` at both ends, nan where not known.

    top : in words
    """

    ends: Array
    shares: Array
    top: str


@dataclass(frozen=True, eq=False)
class DrawnRose:
    """At which tilt it tips, by direction.

    azimuth_rad : (n,) from x counter-clockwise; shares : (n,) of the outer ring, which `ring` says in words
    least : index of the direction that it tips in first; text : at which tilt
    """

    state: str
    azimuth_rad: Array
    shares: Array
    ring: str
    least: int
    text: str


@dataclass(frozen=True, eq=False)
class DrawnBalance:
    """What is on of the overlay.

    arrows : the scale of the reactions in words
    no_rose : why there is no rose, where one is asked for; empty where there is
    """

    support: DrawnSupport | None
    reactions: tuple[DrawnReaction, ...]
    arrows: str
    moments: DrawnMoments | None
    rose: DrawnRose | None
    no_rose: str


@dataclass
class _Made:
    """The last arrays of a scene, and what they were made from."""

    live: Studied
    key: tuple[object, ...]
    balance: DrawnBalance


_links: WeakKeyDictionary[KeptDocument, np.ndarray] = WeakKeyDictionary()
_made: dict[str, _Made] = {}


def find_balance(context: bpy.types.Context) -> DrawnBalance | None:
    """What is to be drawn, the very same object while nothing has changed; None where there is nothing."""
    scene = context.scene
    overlays, rig = scene.counterpoise.overlays, scene.counterpoise.rig
    wanted = (overlays.support, overlays.reactions, overlays.moments, overlays.rose)
    if not any(wanted) or rig is None or not is_in_sight(rig):
        return None
    kept, live = drawn_live(scene)
    if kept is None or live is None:
        return None
    key = (kept.digest, wanted, scene_units(scene), scene_scale(scene))
    known = _made.get(scene.name)
    if known is None or known.live is not live or known.key != key:
        _made[scene.name] = known = _Made(live, key, _make(kept, live.found, *key[1:]))
    return known.balance


def _make(
    kept: KeptDocument, found: Assessment, wanted: tuple[bool, bool, bool, bool], units: Units, unit_m: float
) -> DrawnBalance:
    support, reactions, moments, rose = wanted
    force_N = choose_scale(GRAVITY * found.mass_kg / (ARROWS * kept.plan.size_m), units)
    site, drawn_rose = kept.document.site, _draw_rose(found) if rose else None
    return DrawnBalance(
        _draw_support(found, site, units, unit_m) if support else None,
        tuple(_draw_reaction(foot, force_N, units, unit_m) for foot in found.feet if foot.force_N) if reactions else (),
        say("{force} to 1 {unit}", force=word_round(force_N * units.place.size, "N", units), unit=units.place.name),
        _draw_moments(kept, found, units, unit_m) if moments else None,
        drawn_rose,
        _word_no_rose(found) if rose and drawn_rose is None else "",
    )


def choose_scale(force_N: float, units: Units) -> float:
    """Force [N] that an arrow of one metre stands for: about as asked, a round one to the unit that places are in."""
    per_unit = units.force.size / units.place.size
    return round_up(force_N / per_unit) * per_unit if force_N > 0 else per_unit


def word_round(value: float, unit: str, units: Units) -> str:
    """A round figure in words, without noughts after the point."""
    figure, name = word_quantity(value, unit, units).rsplit(" ", 1)
    return f"{figure.rstrip('0').rstrip('.') if '.' in figure else figure} {name}"


def round_up(value: float) -> float:
    """The next of 1, 2, 5, 10, 20 … that is not below a value above zero."""
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1, 2, 5, 10) if step * power >= value * (1 - 1e-9))


def _draw_support(found: Assessment, site: Site, units: Units, unit_m: float) -> DrawnSupport:
    corners = place_corners(found, site) / unit_m
    centre = found.centre_m / unit_m
    ground = np.array([*centre[:2], site.ground_m / unit_m if not len(corners) else corners[:, 2].mean()])
    stands, worst = find_standing(found), find_governing(found)
    if worst is None:
        text = NO_POLYGON[min(len(corners), 2)]
        return DrawnSupport(stands.state, centre, ground, corners, None, None, None, capitalise(tell(text)))
    edge = corners[[worst, (worst + 1) % len(corners)]]
    along = edge[1] - edge[0]
    share = float((ground - edge[0])[:2] @ along[:2] / (along[:2] @ along[:2]))
    end = edge[0] + share * along
    beyond = None if 0 <= share <= 1 else np.stack([edge[0] if share < 0 else edge[1], end])
    margin = word_length(found.distance_margin_m, units)
    words = {
        "fails": say("Margin {margin}: it tips", margin=margin),
        "close": say("Margin {margin}: close", margin=margin),
    }
    text = words.get(stands.state, say("Margin {margin}", margin=margin))
    return DrawnSupport(stands.state, centre, ground, corners, edge, np.stack([ground, end]), beyond, text)


def _draw_reaction(foot: FootLoad, force_N: float, units: Units, unit_m: float) -> DrawnReaction:
    """force_N : that an arrow of one metre stands for."""
    centre = foot.points_m.mean(axis=0) if foot.centre_m is None else foot.centre_m  # an anchored foot may have none
    tip = np.array([*centre[:2], float(foot.points_m[:, 2].min())]) / unit_m

    def begin(force: float) -> Array:
        below: Array = tip - [0.0, 0.0, force / force_N / unit_m]
        return below

    span = None if foot.range_N is None else np.stack([begin(force) for force in foot.range_N])
    return DrawnReaction(tip, begin(foot.force_N), span, word_quantity(foot.force_N, "N", units))


def _draw_moments(kept: KeptDocument, found: Assessment, units: Units, unit_m: float) -> DrawnMoments:
    if kept not in _links:
        _links[kept] = np.array(list_links(kept.document.skeleton), int).reshape(-1, 2)
    links, magnitudes = _links[kept], measure_moments(found.joints)
    points = np.array([load.point_m for load in found.joints], float).reshape(-1, 3) / unit_m
    own = magnitudes[links]
    greatest = float(np.nanmax(own)) if np.isfinite(own).any() else 0.0
    top = round_up(greatest / units.moment.size) * units.moment.size if greatest > 0 else units.moment.size
    return DrawnMoments(points[links], own / top, word_round(top, "N·m", units))


def _draw_rose(found: Assessment) -> DrawnRose | None:
    """None where it does not stand: then there is no tilt that it would bear."""
    rose = None if found.balance is None else found.balance.rose
    if rose is None:
        return None
    degrees = np.degrees(rose.tip_angle_rad)
    ring, least = round_up(float(degrees.max())), int(degrees.argmin())
    state = find_standing(found).state
    return DrawnRose(state, rose.azimuth_rad, degrees / ring, f"{ring:g}°", least, f"{degrees[least]:.1f}°")


def _word_no_rose(found: Assessment) -> str:
    """Over which edge it tips already; that it has no edge to tip over, where it stands on none."""
    if found.edges:
        return say("Tips already: over {edge}", edge=tell(find_standing(found).place))
    return say("No tip angle: {why}", why=tell(NO_POLYGON[min(len(found.support_polygon_m), 2)]))


def register() -> None: ...


def unregister() -> None:
    _links.clear()
    _made.clear()
