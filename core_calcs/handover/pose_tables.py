"""The tables of one pose, and the one that compares poses."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from ..site.site import Site
from ..skeleton.tree import Skeleton
from ..studies.assessment import SEVERITY, Assessment
from ..studies.checks import count_outside
from .balance_tables import list_balance_tables
from .beam_table import tabulate_beams
from .ground_tables import tabulate_base, tabulate_edges, tabulate_feet
from .joint_table import tabulate_joints
from .mass_tables import tabulate_elements, tabulate_mass_along, tabulate_parts
from .tables import Cell, DataTable, table_of, vector_cells
from .worst_tables import tabulate_worst_beams, tabulate_worst_joints


def list_pose_tables(
    skeleton: Skeleton, site: Site, assessment: Assessment, files: Mapping[str, str]
) -> tuple[DataTable, ...]:
    """Every table of one pose.

    files : path of every element's posed mesh, by element
    """
    return (
        tabulate_elements(skeleton, assessment, files),
        tabulate_parts(assessment),
        tabulate_mass_along(skeleton, assessment),
        tabulate_joints(skeleton, assessment),
        tabulate_worst_joints(assessment),
        tabulate_beams(skeleton, assessment),
        tabulate_worst_beams(assessment),
        tabulate_feet(assessment),
        tabulate_base(site, assessment),
        tabulate_edges(assessment),
        *list_balance_tables(assessment),
        tabulate_checks(assessment),
        tabulate_hits(assessment),
    )


def tabulate_checks(assessment: Assessment) -> DataTable:
    """Every question and its answer."""
    heads = ("check", "state", "figure", "limit", "unit", "place", "missing")
    rows = tuple((c.name, c.state, c.figure, c.limit, c.unit, c.place, c.missing) for c in assessment.checks)
    return DataTable("checks", heads, rows)


def tabulate_hits(assessment: Assessment) -> DataTable:
    """What runs into what: how much deeper than at neutral, how deep there already, what is allowed, and where."""
    heads = ("element", "other_element", "state", "depth_m", "neutral_m", "allowed_m")
    places = [f"{frame}_{axis}_m" for frame in ("place", "place_in_element", "place_in_other") for axis in "xyz"]
    rows: list[tuple[Cell, ...]] = []
    for hit in () if assessment.clearance is None else assessment.clearance.hits:
        figures = (*hit.elements, hit.state, hit.depth_m, hit.neutral_m, hit.allowed_m)
        rows.append((*figures, *map(float, hit.place_m), *map(float, hit.places_m.ravel())))
    return DataTable("hits", (*heads, *places), tuple(rows))


def compare_poses(assessments: Sequence[Assessment], folders: Mapping[str, str]) -> DataTable:
    """One row a pose: what decides between them.

    folders : of every pose, by name
    """
    rows = []
    for a in assessments:
        states = [check.state for check in a.checks]
        tip = a.tip_angle_rad
        worst = max(states, key=SEVERITY.index)
        row: dict[str, Cell] = {"pose": a.pose, "folder": folders[a.pose], "state": worst}
        row |= {"mass_kg": a.mass_kg, "mass_uncertainty_kg": a.mass_uncertainty_kg}
        row |= vector_cells("centre", "m", a.centre_m) | vector_cells("datum", "m", a.datum_m)
        row |= vector_cells("base_force", "N", a.base_force_N) | vector_cells("base_moment", "Nm", a.base_moment_Nm)
        row |= {"distance_margin_m": a.distance_margin_m, "tip_angle_deg": None if tip is None else math.degrees(tip)}
        row |= {"joints_beyond_limits": count_outside(a.uses)}
        row |= {"joints_limits_not_known": sum(use.beyond_rad is None for use in a.uses)}
        row |= {"pairs_in_each_other": None if a.clearance is None else len(a.clearance.failing)}
        row |= {f"checks_{s.replace(' ', '_')}": states.count(s) for s in ("holds", "close", "fails", "not known")}
        rows.append(row)
    return table_of("poses", rows)
