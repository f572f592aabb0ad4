"""The tables of joints and beams at worst, over all combinations of what acts."""

from __future__ import annotations

from collections.abc import Iterable

from ..studies.acted_figures import Figure, WorstLoad
from ..studies.assessment import Assessment
from .quantities import format_figure
from .report_balance import tell_way
from .tables import Cell, DataTable, table_of

JOINT_AXES = ("shear_flexion_axis_N", "shear_floating_axis_N", "bending_flexion_axis_Nm", "bending_floating_axis_Nm")
BEAM_AXES = ("shear_sideways_N", "shear_normal_N", "bending_about_sideways_Nm", "bending_about_normal_Nm")

_FIRST = (
    *("joint", "values", "figure", "greatest", "unit", "expression", "factor_on_self_weight"),
    *("leading", "acting", "missing"),
)


def find_unit(figure: Figure) -> str:
    """The SI unit of a figure."""
    return "Nm" if figure in ("torsion", "bending") else "N"


def tabulate_worst_joints(assessment: Assessment) -> DataTable:
    """Five figures of every joint, characteristic and design, with what passes through in the joint's axes then."""
    return _tabulate("joints-worst", assessment, "", JOINT_AXES)


def tabulate_worst_beams(assessment: Assessment) -> DataTable:
    """The same along neck, trunk, tail and limbs, in each chain's axes."""
    return _tabulate("beams-worst", assessment, "beam", BEAM_AXES)


def _tabulate(name: str, assessment: Assessment, chain: str, axes: tuple[str, ...]) -> DataTable:
    acted = assessment.acted
    first = (chain, *_FIRST) if chain else _FIRST
    heads = (*first, "axial_N", *axes[:2], "torsion_Nm", *axes[2:])
    if acted is None or acted.missing:
        missing = "; ".join(acted.missing) if acted else "not computed"
        unknown = dict.fromkeys(heads, None) | dict.fromkeys(first, "") | {"greatest": None, "missing": missing}
        return table_of(name, [unknown | {"joint": load.child} for load in assessment.joints], heads)
    rows = [_row(own, heads, chain) for own in (acted.beams if chain else acted.joints)]
    return table_of(name, rows, heads)


def _row(own: WorstLoad, heads: Iterable[str], chain: str) -> dict[str, Cell]:
    row: dict[str, Cell] = {chain: own.chain} if chain else {}
    row |= {
        "joint": own.joint,
        "values": own.level,
        "figure": own.figure,
        "greatest": own.value_N_or_Nm,
        "unit": find_unit(own.figure),
        "expression": own.expression,
        "factor_on_self_weight": own.permanent,
        "leading": own.leading or "none",
        "acting": tell_parts(own),
        "missing": own.missing,
    }
    loads = [None] * 6 if own.load is None else own.load.tolist()
    return row | dict(zip(list(heads)[-6:], loads, strict=True))


def tell_parts(own: WorstLoad) -> str:
    """Every action in a combination, with its factor and where it goes."""
    return "; ".join(
        f"{part.action} × {format_figure(part.factor)} {tell_way(part.direction)}" for part in own.parts
    )  # fmt: skip
