"""What the report says of the balance under what acts: combinations, feet in the worst, what would hold it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from ..site.site import Site
from ..spatial.transforms import Array
from ..studies.balance_checks import CLOSE_FROM
from ..studies.balance_figures import SELF_WEIGHT, Balance, BalanceCase
from .balance_tables import INFINITE
from .quantities import NOT_KNOWN, choose_unit, format_column, format_figure, format_fixed, format_quantity
from .report_lines import Line


def list_case_lines(balance: Balance) -> tuple[Line, ...]:
    """Every combination: what leads and whereto, edge, moments about it, how far that and friction are used up."""
    moments = [value for case in balance.cases for value in (case.overturning_Nm, case.holding_Nm)]
    unit, scale = choose_unit(moments, "N·m")
    texts = format_column([value * scale for value in moments])
    lines = []
    for i, case in enumerate(balance.cases):
        used = tell_share(case.overturning)
        if case.anchored is not None:
            used += f" ({tell_share(case.anchored)} with anchors)"
        slides = NOT_KNOWN if case.sliding is None else tell_share(case.sliding)
        over, holds = (f"{text} {unit}" for text in texts[2 * i : 2 * i + 2])
        cells = (tell_leading(case), f"{case.edge + 1}: {case.place}", over, holds, used, tell_friction(case), slides)
        lines.append(Line((*cells, "governs" if i == balance.worst else "")))
    return tuple(lines)


def tell_leading(case: BalanceCase) -> str:
    """What leads, with its characteristic force and where that goes."""
    if case.force_N is None:
        return case.name
    size = float(np.linalg.norm(case.force_N))
    return f"{case.name}, {format_quantity(size, 'N')} {tell_way(case.force_N)}"


def tell_way(force: Array) -> str:
    """Where a force (3,) goes: down, or towards an angle from x."""
    x, y, z = map(float, force)
    size, across = math.hypot(x, y, z), math.hypot(x, y)
    if across <= 1e-9 * size:
        return "down" if z < 0 else "up"
    way = f"towards {format_fixed(math.degrees(math.atan2(y, x)) % 360, 0)}°"
    slope = math.degrees(math.atan2(z, across))
    return way if abs(slope) < 0.05 else f"{way}, {format_fixed(abs(slope), 0)}° {'up' if slope > 0 else 'down'}"


def tell_share(used: float) -> str:
    """A utilisation in percent."""
    return INFINITE if math.isinf(used) else f"{format_fixed(100 * used, 0)} %"


def tell_friction(case: BalanceCase) -> str:
    """The coefficient that is needed against sliding."""
    return INFINITE if math.isinf(case.friction) else format_figure(case.friction, 2)


def list_reaction_lines(case: BalanceCase) -> tuple[Line, ...]:
    """Every standing foot in one combination, characteristic: along x and y, upwards with its range, uplift."""
    feet = case.reactions or ()
    figures = [value for foot in feet for value in (*map(float, foot.force_N), *(foot.range_N or (None, None)))]
    unit, scale = choose_unit([value for value in figures if value is not None], "N")
    texts = format_column([None if value is None else value * scale for value in figures])
    lines = []
    for i, foot in enumerate(feet):
        up = float(foot.force_N[2])
        kept = "pulls at its anchor" if up < 0 else "lifts off" if up == 0 else "presses"
        told = (text if text == NOT_KNOWN else f"{text} {unit}" for text in texts[5 * i : 5 * i + 5])
        lines.append(Line((foot.foot, *told, kept)))
    return tuple(lines)


def list_needs(balance: Balance) -> Iterator[str]:
    """Anchors and ballast that would do, a sentence each; that nothing is needed, where nothing is."""
    if balance.anchors:
        told = "; ".join(
            f"{foot} {INFINITE if math.isinf(tension) else format_quantity(tension, 'N')}"
            for foot, tension in balance.anchors
        )
        yield f"Anchors that would hold it (characteristic tension, each axis held by one foot alone): {told}."
        places = [(place, mass) for place, mass in balance.ballast if mass is not None]
        if places:
            told = "; ".join(f"{format_figure(mass)} kg at {place}" for place, mass in places)
            yield f"Ballast that would hold it, one of: {told}."
        else:
            yield "No ballast at the centre of mass or at one foot would hold it about every edge."
    else:
        yield "Against overturning it needs neither anchors nor ballast."
    if balance.sliding_ballast_kg is None:
        yield f"Ballast against sliding: {NOT_KNOWN}, as friction is, or nothing presses."
    elif balance.sliding_ballast_kg > 0:
        mass = format_figure(balance.sliding_ballast_kg)
        yield f"Friction lacks {mass} kg of ballast, spread as the feet press."
    if balance.anchored_feet:
        yield f"Anchored: {', '.join(balance.anchored_feet)}."


def list_acting(site: Site) -> Iterator[str]:
    """What the site says acts at points, a line each."""
    for own in site.actions:
        if own.direction is not None:
            way = "in direction ({:g}, {:g}, {:g})".format(*own.direction)
        else:
            way = "downwards" if own.kind == "person" else "horizontally, whichever way is worst"
        yield f"{own.name}: {own.kind} of {format_quantity(own.force_N, 'N')} at {own.element}, {way}."
    if not site.actions and site.wind is None:
        yield "Nothing is said to act besides self-weight: no push, no person, no wind."


def tell_limits() -> str:
    """From where a utilisation is close."""
    return f"close from {format_fixed(100 * CLOSE_FROM, 0)} %, fails above 100 %"


def name_worst(balance: Balance) -> str:
    """The leading action of the combination that overturns most, as a heading says it."""
    case = balance.cases[balance.worst]
    return "self-weight alone" if case.name == SELF_WEIGHT else tell_leading(case)
