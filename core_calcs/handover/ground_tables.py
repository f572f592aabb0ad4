"""The tables of what meets the ground: feet, base, edges of the support polygon."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ..site.site import Site
from ..studies.assessment import Assessment
from .tables import Cell, DataTable, table_of, vector_cells


def tabulate_feet(assessment: Assessment) -> DataTable:
    """What the ground carries under each foot."""
    heads = ("foot", "bears", "force_N", "least_force_N", "greatest_force_N", "share_percent", "contact_points")
    weight = float(abs(assessment.base_force_N[2])) or math.nan
    rows: list[dict[str, Cell]] = []
    for foot in assessment.feet:
        least, greatest = foot.range_N or (None, None)
        bears = "yes" if foot.bears else "no"
        figures = (foot.force_N, least, greatest, None if foot.force_N is None else 100 * foot.force_N / weight)
        unloaded = foot.force_N == 0 and foot.centre_m is None
        centre = vector_cells("centre_of_pressure", "m", foot.centre_m)
        rows.append(
            dict(zip(heads, (foot.foot, bears, *figures, len(foot.points_m)), strict=True))
            | (dict.fromkeys(centre, "") if unloaded else centre)
        )
    return table_of("feet", rows, (*heads, *vector_cells("centre_of_pressure", "m", None)))


def tabulate_base(site: Site, assessment: Assessment) -> DataTable:
    """Weight, base force and moment, datum, support polygon and its edges: one quantity a row."""
    rows: list[dict[str, Cell]] = []

    def add(quantity: str, unit: str, value: Cell = "", vector: Sequence[float] | np.ndarray | None = None) -> None:
        cells: list[Cell] = ["", "", ""]
        if vector is not None:
            cells = [float(v) for v in vector] + [""] * (3 - len(vector))
        rows.append({"quantity": quantity, "unit": unit, "value": value, **dict(zip("xyz", cells, strict=True))})

    add("mass", "kg", assessment.mass_kg)
    add("mass, uncertainty", "kg", assessment.mass_uncertainty_kg)
    add("weight", "N", float(abs(assessment.base_force_N[2])))
    add("centre of mass", "m", "", assessment.centre_m)
    add("height of the ground", "m", site.ground_m)
    add("centre of mass, uncertainty", "m", "", assessment.uncertainties.centre_m)
    add("datum", "m", "", assessment.datum_m)
    add("base force on the ground", "N", "", assessment.base_force_N)
    add("base moment on the ground about the datum", "Nm", "", assessment.base_moment_Nm)
    for i, corner in enumerate(assessment.support_polygon_m, start=1):
        add(f"support polygon, corner {i}", "m", "", corner)
    for i, edge in enumerate(assessment.edges, start=1):
        add(f"edge {i}, start", "m", "", edge.start_m)
        add(f"edge {i}, end", "m", "", edge.end_m)
        add(f"edge {i}, distance of the centre of mass", "m", edge.distance_m)
        add(f"edge {i}, tip angle", "deg", math.degrees(edge.tip_angle_rad))
        add(f"edge {i}, energy margin", "J", edge.energy_J)
    tip = assessment.tip_angle_rad
    add("distance margin", "m", assessment.distance_margin_m)
    add("distance margin, uncertainty", "m", assessment.uncertainties.distance_margin_m)
    add("base moment, horizontal, uncertainty", "Nm", assessment.uncertainties.base_moment_Nm)
    add("tip angle", "deg", None if tip is None else math.degrees(tip))
    add("residual force at the root", "N", assessment.residual_N)
    add("residual moment at the root", "Nm", assessment.residual_Nm)
    return table_of("base", rows)


def tabulate_edges(assessment: Assessment) -> DataTable:
    """Every edge of the support polygon with its margin."""
    heads = (
        "edge",
        "start_x_m",
        "start_y_m",
        "end_x_m",
        "end_y_m",
        "length_m",
        "distance_m",
        "tip_angle_deg",
        "energy_margin_J",
    )
    rows = []
    for i, edge in enumerate(assessment.edges, start=1):
        ends = (*map(float, edge.start_m), *map(float, edge.end_m))
        length = float(np.linalg.norm(edge.end_m - edge.start_m))
        rows.append((i, *ends, length, edge.distance_m, math.degrees(edge.tip_angle_rad), edge.energy_J))
    return DataTable("edges", heads, tuple(rows))
