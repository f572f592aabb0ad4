"""What `counterpoise site` does."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ..document.document import SkeletonDocument
from ..document.reading import read_document
from ..handover.site_text import list_site
from ..handover.tables import plain_value
from ..site.actions import Factors, Footing, Wind
from ..site.site import Site
from ..spatial.errors import SiteError
from ..studies.site_by_hand import change_site, remove_footing, set_footing
from .recording import write_recorded
from .terminal import Terminal


@dataclass(frozen=True)
class Order:
    """What the user asked for; None, empty or false: stays as it is."""

    document_path: Path
    ground_mm: float | None
    datum_mm: tuple[float, float] | None
    datum_height_mm: float | None
    datum_middle: bool
    reserve_mm: float | None
    friction: float | None
    friction_unknown: bool
    wind_pa: float | None
    force_coefficient: float | None
    no_wind: bool
    directions: int | None
    foot: str
    height_mm: float | None
    stiffness_kn_mm: float | None
    foot_friction: float | None
    anchored: bool
    anchor_kn: float | None
    no_footing: bool
    factors: tuple[tuple[str, float], ...]
    default_factors: bool
    reason: str
    by: str


def run_site(terminal: Terminal, order: Order) -> None:
    """Change what is said of the site, write the document where that changed it, and show it."""
    document = read_document(order.document_path)
    changed = _change_footing(change_site(document, **_list_changes(document.site, order)), order)
    same = changed.site == document.site
    if not same:
        write_recorded(order.document_path, document, changed, order.by, order.reason)
    for line in list_site(changed.site):
        terminal.show_line(line)
    state = "as it was" if same else "written"
    terminal.show_line(f"{order.document_path}: {state}")
    terminal.show_result({"document": str(order.document_path), "state": state, "site": plain_value(changed.site)})


def _list_changes(site: Site, order: Order) -> dict[str, Any]:
    datum = order.datum_mm is not None or order.datum_height_mm is not None
    _refuse_both(datum, order.datum_middle, "datum", "--datum-mm or --datum-middle")
    _refuse_both(order.friction is not None, order.friction_unknown, "friction", "--friction or --friction-unknown")
    _refuse_both(order.wind_pa is not None, order.no_wind, "wind", "--wind-pa or --no-wind")
    _refuse_both(bool(order.factors), order.default_factors, "factors", "--factor or --default-factors")
    changes: dict[str, Any] = {}
    if order.ground_mm is not None:
        changes["ground_m"] = order.ground_mm / 1000
    if datum or order.datum_middle:
        changes["datum_m"] = _find_datum(site, order)
    if order.reserve_mm is not None:
        changes["reserve_m"] = order.reserve_mm / 1000
    if order.friction is not None or order.friction_unknown:
        changes["friction"] = order.friction
    if order.directions is not None:
        changes["directions"] = order.directions
    if order.factors or order.default_factors:
        given = {name.replace("-", "_"): value for name, value in order.factors}
        changes["factors"] = replace(site.factors, **given) if given else Factors()
    return changes | _change_wind(site.wind, order)


def _change_wind(wind: Wind | None, order: Order) -> dict[str, Any]:
    if order.no_wind:
        if order.force_coefficient is not None:
            raise SiteError("wind", "a coefficient is given of a wind that is taken out", "give one of the two")
        return {"wind": None}
    if order.wind_pa is None and order.force_coefficient is None:
        return {}
    if order.wind_pa is None and wind is None:
        raise SiteError("wind", "its pressure is not known", "give --wind-pa too")
    made = wind or Wind(0.0)
    pressure = made.pressure_Pa if order.wind_pa is None else order.wind_pa
    coefficient = made.force_coefficient if order.force_coefficient is None else order.force_coefficient
    return {"wind": Wind(pressure, coefficient)}


def _change_footing(document: SkeletonDocument, order: Order) -> SkeletonDocument:
    given = {
        "height_m": None if order.height_mm is None else order.height_mm / 1000,
        "stiffness_N_m": None if order.stiffness_kn_mm is None else order.stiffness_kn_mm * 1e6,
        "friction": order.foot_friction,
        "anchored": True if order.anchored or order.anchor_kn is not None else None,
        "anchor_N": None if order.anchor_kn is None else order.anchor_kn * 1000,
    }
    changes: dict[str, Any] = {name: value for name, value in given.items() if value is not None}
    if not order.foot:
        if changes or order.no_footing:
            raise SiteError("footing", "no foot is named", "give --foot NAME too")
        return document
    if order.no_footing:
        _refuse_both(bool(changes), True, f"footing of {order.foot}", "what it is, or --no-footing")
        return remove_footing(document, order.foot)
    if not changes:
        raise SiteError(f"footing of {order.foot}", "nothing is said of it", "give --height-mm or another option")
    known = {footing.foot: footing for footing in document.site.footings}
    return set_footing(document, replace(known.get(order.foot, Footing(order.foot)), **changes))


def _find_datum(site: Site, order: Order) -> tuple[float, float, float] | None:
    """The point asked for: what is not said of it stays; a new one is on the ground, as that is to be."""
    if order.datum_middle:
        return None
    ground = site.ground_m if order.ground_mm is None else order.ground_mm / 1000
    if order.datum_mm is not None:
        (x, y), z = (value / 1000 for value in order.datum_mm), ground
    elif site.datum_m is not None:
        x, y, z = site.datum_m
    else:
        raise SiteError("datum", "a height alone is no point", "give --datum-mm with it")
    return x, y, z if order.datum_height_mm is None else order.datum_height_mm / 1000


def _refuse_both(first: bool, second: bool, where: str, either: str) -> None:
    if first and second:
        raise SiteError(where, "it cannot be both", f"give {either}")
