"""The tables of balance under what acts: combinations, feet in each, anchors and ballast, the rose."""

from __future__ import annotations

import math

from ..studies.assessment import Assessment
from ..studies.balance_figures import BalanceCase
from .tables import Cell, DataTable, table_of, vector_cells

INFINITE = "infinite"
"""Written where nothing holds, or nothing would: neither a number nor `not known`."""

_CASE_HEADS = (
    "case",
    "leading",
    "kind",
    "governing_edge",
    "feet_of_edge",
    *vector_cells("leading_force", "N", None),
    "accompanying",
    "holding_design_Nm",
    "overturning_design_Nm",
    "overturning_utilisation",
    "utilisation_with_anchors",
    "push_x_design_N",
    "push_y_design_N",
    "press_design_N",
    "turn_design_Nm",
    "friction_needed",
    "sliding_utilisation",
)


def list_balance_tables(assessment: Assessment) -> tuple[DataTable, ...]:
    """Every table of the balance; without rows where the pose stands on no polygon."""
    return (
        tabulate_cases(assessment),
        tabulate_case_edges(assessment),
        tabulate_case_feet(assessment),
        tabulate_holding(assessment),
        tabulate_rose(assessment),
    )


def list_cases(assessment: Assessment) -> tuple[BalanceCase, ...]:
    """The combinations of a pose; none where it stands on no polygon."""
    return () if assessment.balance is None else assessment.balance.cases


def tabulate_cases(assessment: Assessment) -> DataTable:
    """Self-weight, then every action leading: about its governing edge, and along the ground; design values."""
    rows = [_case_row(i, case) for i, case in enumerate(list_cases(assessment), start=1)]
    return table_of("balance", rows, _CASE_HEADS)


def _case_row(number: int, case: BalanceCase) -> dict[str, Cell]:
    force = vector_cells("leading_force", "N", case.force_N)
    figures: tuple[Cell, ...] = (
        case.holding_Nm,
        case.overturning_Nm,
        write_ratio(case.overturning),
        None if case.anchored is None else write_ratio(case.anchored),
        float(case.push_N[0]),
        float(case.push_N[1]),
        case.press_N,
        case.turn_Nm,
        write_ratio(case.friction),
        None if case.sliding is None else write_ratio(case.sliding),
    )
    leading = dict.fromkeys(force, "") if case.force_N is None else force
    names = (number, case.name, case.kind, case.edge + 1, case.place)
    cells = (*names, *leading.values(), "; ".join(case.accompanying), *figures)
    return dict(zip(_CASE_HEADS, cells, strict=True))


def tabulate_case_edges(assessment: Assessment) -> DataTable:
    """How far what holds about every edge is used up in every combination."""
    rows: list[dict[str, Cell]] = [
        {"case": i, "leading": case.name, "edge": edge, "overturning_utilisation": write_ratio(float(used))}
        for i, case in enumerate(list_cases(assessment), start=1)
        for edge, used in enumerate(case.by_edge, start=1)
    ]
    return table_of("balance-edges", rows, ("case", "leading", "edge", "overturning_utilisation"))


def tabulate_case_feet(assessment: Assessment) -> DataTable:
    """What the ground does to every standing foot in every combination, characteristic values.

    Where the feet alone keep no equilibrium there is one row without a foot, and its figures are not known.
    """
    heads = ("case", "leading", "foot", *vector_cells("force_on_foot", "N", None), "least_up_N", "greatest_up_N")
    rows: list[dict[str, Cell]] = []
    for i, case in enumerate(list_cases(assessment), start=1):
        first: dict[str, Cell] = {"case": i, "leading": case.name}
        if case.reactions is None:
            rows.append({**dict.fromkeys(heads, None), **first, "foot": ""})
        for own in case.reactions or ():
            least, greatest = own.range_N or (None, None)
            force = vector_cells("force_on_foot", "N", own.force_N)
            rows.append({**first, "foot": own.foot, **force, "least_up_N": least, "greatest_up_N": greatest})
    return table_of("balance-feet", rows, heads)


def tabulate_holding(assessment: Assessment) -> DataTable:
    """What would hold it where it overturns by more than is allowed, or slides: anchors, or ballast."""
    heads = ("means", "place", "value", "unit")
    balance = assessment.balance
    if balance is None:
        return DataTable("holding-down", heads, ())
    rows: list[tuple[Cell, ...]] = [("anchor tension", foot, write_ratio(T), "N") for foot, T in balance.anchors]
    rows += [
        ("ballast against overturning", place, "none would do" if mass is None else mass, "kg")
        for place, mass in balance.ballast
    ]
    rows.append(("ballast against sliding", "spread as the feet press", balance.sliding_ballast_kg, "kg"))
    return DataTable("holding-down", heads, tuple(rows))


def tabulate_rose(assessment: Assessment) -> DataTable:
    """By the direction in which the whole would go over: distance, tilt, force; no rows where it does not stand."""
    heads = ("azimuth_deg", "distance_m", "tip_angle_deg", "height_of_force_m", "tipping_force_N", "allowed_force_N")
    balance = assessment.balance
    if balance is None or balance.rose is None or balance.allowed_N is None:
        return DataTable("rose", heads, ())
    rose = balance.rose
    rows = tuple(
        (math.degrees(azimuth), distance, math.degrees(tip), rose.height_m, write_ratio(force), write_ratio(allowed))
        for azimuth, distance, tip, force, allowed in zip(
            *(a.tolist() for a in (rose.azimuth_rad, rose.distance_m, rose.tip_angle_rad, rose.force_N)),
            balance.allowed_N.tolist(),
            strict=True,
        )
    )
    return DataTable("rose", heads, rows)


def write_ratio(value: float) -> Cell:
    """A figure that may be infinite, which no JSON number is."""
    return INFINITE if math.isinf(value) else value
