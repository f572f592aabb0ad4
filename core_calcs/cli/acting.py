"""What `counterpoise actions` does."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ..actions.variable import word_direction
from ..actions.wind import WindAreas
from ..document.document import SkeletonDocument
from ..document.meshes import locate_mesh_folder, require_files
from ..document.reading import read_document, write_document
from ..handover.quantities import format_figure, format_fixed, format_quantity
from ..handover.tables import plain_value
from ..site.actions import ActionKind, PointAction
from ..skeleton.kinematics import place_elements
from ..spatial.errors import SiteError
from ..spatial.progress import part_of
from ..spatial.transforms import Array, apply
from ..studies.acting import Shown, measure_poses, prepare_outlines
from ..studies.site_by_hand import add_action, find_spot, make_action, remove_action
from ..studies.site_names import Spot
from .terminal import Terminal


@dataclass(frozen=True)
class Order:
    """What the user asked for; None or empty: not given."""

    document_path: Path
    kind: ActionKind | None
    element: str
    at_mm: tuple[float, float, float] | None
    spot: Spot | None
    kn: float | None
    direction: tuple[float, float, float] | None
    name: str
    remove: str
    silhouettes: bool


def run_actions(terminal: Terminal, order: Order) -> None:
    """Add an action or take one out, write the document where that changed it, and show what acts."""
    document = read_document(order.document_path)
    folder = locate_mesh_folder(document, order.document_path)
    changed = _change(document, order, folder)
    areas = _measure(terminal, changed, folder) if order.silhouettes else None
    if changed is not document:
        write_document(order.document_path, changed)
    places = {pose.name: place_elements(changed.skeleton, pose) for pose in changed.poses}
    _show_actions(terminal, changed, places)
    if areas is not None:
        _show_areas(terminal, changed, areas)
    state = "as it was" if changed is document else "written"
    terminal.show_line(f"{order.document_path}: {state}")
    result: dict[str, Any] = {"document": str(order.document_path), "state": state}
    result["actions"] = [_plain_action(changed, own, places) for own in changed.site.actions]
    if areas is not None:
        result["silhouettes"] = {pose: _plain_areas(own.areas) for pose, own in areas.items()}
    terminal.show_result(result)


def _change(document: SkeletonDocument, order: Order, folder: Path) -> SkeletonDocument:
    given = order.element or order.at_mm or order.spot or order.direction or order.name or order.kn is not None
    if order.kind is None and given:
        raise SiteError("actions", "no kind of action is given", "give --add push, --add pull or --add person too")
    if order.remove:
        document = remove_action(document, order.remove)
    if order.kind is None:
        return document
    if not order.element:
        raise SiteError(f"a {order.kind}", "no element is named that it acts on", "give --element NAME too")
    if (order.at_mm is None) == (order.spot is None):
        what = "no point is given" if order.at_mm is None else "its point is given twice"
        raise SiteError(f"{order.kind} on {order.element}", what, "give one of --at-mm and --spot")
    if order.spot is not None:
        point = find_spot(document, order.element, order.spot, folder)
    else:
        point = np.array(order.at_mm) / 1000
    direction = None if order.direction is None else np.array(order.direction)
    force = None if order.kn is None else 1000 * order.kn
    made = make_action(document, order.kind, order.element, point, force, direction, order.name)
    return add_action(document, made)


def _measure(terminal: Terminal, document: SkeletonDocument, folder: Path) -> dict[str, Shown]:
    """What every pose shows to the wind."""
    elements = document.skeleton.elements
    require_files(elements, folder)
    with terminal.show_progress() as progress:
        outlines = prepare_outlines(elements, folder, progress=part_of(progress, 0.0, 0.5))
        within = part_of(progress, 0.5, 1.0)
        found = measure_poses(document.skeleton, document.poses, document.site.directions, outlines, within)
    return {pose.name: own for pose, own in zip(document.poses, found, strict=True)}


def _show_actions(terminal: Terminal, document: SkeletonDocument, places: dict[str, Array]) -> None:
    """An action a row, how high it acts in every pose in the columns."""
    rows = []
    for own in document.site.actions:
        heights = [
            format_quantity(_find_point(document, own, X)[2] - document.site.ground_m, "m") for X in places.values()
        ]
        point = ", ".join(format_fixed(1000 * value, 0) for value in own.point_m)
        rows.append((own.name, own.kind, own.element, point, format_quantity(own.force_N, "N"), _word(own), *heights))
    if rows:
        heads = ("action", "kind", "element", "at [mm]", "force", "direction", *(f"height, {pose}" for pose in places))
        terminal.show_table(heads, rows, right=(4, *range(6, 6 + len(places))))
    else:
        terminal.show_line("Nothing is said to push, pull or climb.")
    terminal.show_line()


def _word(action: PointAction) -> str:
    if action.kind == "person":
        return "down"
    return "horizontal, worst direction" if action.direction is None else word_direction(action.direction)


def _find_point(document: SkeletonDocument, action: PointAction, X_WE: Array) -> Array:
    """(3,) where an action acts, of elements at X_WE (n, 4, 4)."""
    point: Array = apply(X_WE[document.skeleton.index(action.element)], np.array([action.point_m]))[0]
    return point


def _show_areas(terminal: Terminal, document: SkeletonDocument, shown: dict[str, Shown]) -> None:
    """The direction of the largest silhouette of every pose."""
    wind, rows = document.site.wind, []
    for pose, found in shown.items():
        own = found.areas
        k = int(own.area_m2.argmax())
        force = None if wind is None else wind.pressure_Pa * wind.force_coefficient * float(own.area_m2[k])
        rows.append(
            (
                *(pose, word_direction(own.directions[k]), f"{format_figure(float(own.area_m2[k]))} m²"),
                f"{format_figure(float(own.unshielded_m2[k]))} m²",
                format_quantity(float(own.centroid_m[k, 2]) - document.site.ground_m, "m"),
                "no wind is set" if force is None else format_quantity(force, "N"),
            )
        )
    heads = ("pose", "largest silhouette", "area", "unshielded", "centroid's height", "force")
    terminal.show_table(heads, rows, right=(2, 3, 4, 5))
    if lacking := max((own.missing_share for own in shown.values()), default=0.0):
        terminal.show_line(f"Large meshes were lightened: up to {100 * lacking:.1f} % of an element is left out.")
    terminal.show_line("Preliminary: a licensed structural engineer and local codes decide.")


def _plain_action(document: SkeletonDocument, action: PointAction, places: dict[str, Array]) -> dict[str, Any]:
    points = {pose: plain_value(_find_point(document, action, X)) for pose, X in places.items()}
    return {**plain_value(action), "world_m": points}


def _plain_areas(areas: WindAreas) -> dict[str, Any]:
    return {
        "directions": plain_value(areas.directions),
        "area_m2": plain_value(areas.area_m2),
        "unshielded_m2": plain_value(areas.unshielded_m2),
        "centroid_m": plain_value(areas.centroid_m),
    }
