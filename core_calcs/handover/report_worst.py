"""What the report says of joints and beams at worst, over all combinations of what acts."""

from __future__ import annotations

from collections.abc import Sequence

from ..actions.combinations import list_strength
from ..actions.variable import WIND_NAME
from ..site.actions import Factors
from ..site.site import Site
from ..skeleton.tree import Skeleton
from ..studies.acted_figures import Figure, Level, WorstLoad
from ..studies.assessment import Assessment
from ..studies.beams import Beam
from .figure_names import shorten_name, shorten_names
from .quantities import NOT_KNOWN, choose_unit, format_column, format_quantity
from .report_joints import list_moving
from .report_lines import Line

SHOWN: tuple[Figure, ...] = ("tension", "compression", "shear", "bending", "torsion")
SELF_WEIGHT = "self-weight"
_LONGEST_LEADING = 22
"""So many letters of what leads fit in a column of the joints."""


def list_worst_beams(assessment: Assessment, beams: Sequence[Beam]) -> tuple[Line, ...]:
    """Of every chain the greatest design value of every figure: value, element, what leads; none if not looked for."""
    acted = assessment.acted
    if acted is None:
        return ()
    lines = []
    for beam in beams:
        elements = dict(zip(beam.joints, beam.elements, strict=True))
        own = [load for load in acted.beams if load.chain == beam.name and load.level == "design"]
        if own:
            cells = (_tell_greatest([load for load in own if load.figure == figure], elements) for figure in SHOWN)
            lines.append(Line((beam.name[:1].upper() + beam.name[1:], *cells)))
    return tuple(lines)


def _tell_greatest(loads: Sequence[WorstLoad], elements: dict[str, str]) -> str:
    """E.g. "3.84 kN·m at caudal 6, passenger"; not known where it is not known of every joint."""
    values = [load.value_N_or_Nm for load in loads]
    known = [value for value in values if value is not None]
    if len(known) < len(values):
        return NOT_KNOWN
    most = loads[known.index(max(known))]
    if max(known) <= 0:
        return "none"
    unit = "N·m" if most.figure in ("torsion", "bending") else "N"
    return f"{format_quantity(max(known), unit)} at {shorten_name(elements[most.joint])}, {tell_leading(most)}"


def tell_leading(load: WorstLoad) -> str:
    """What leads in its combination; that all actions share it, or none acts."""
    return load.leading or (", ".join(part.action for part in load.parts) or SELF_WEIGHT)


def list_worst_joints(skeleton: Skeleton, assessment: Assessment) -> tuple[tuple[Line, ...], str, str]:
    """Every joint that moves: bending and shear, self-weight, characteristic, design, what leads; units of both."""
    acted = assessment.acted
    if acted is None or acted.missing:
        return (), "", ""
    found = {(load.joint, load.figure, load.level): load for load in acted.joints}
    names = [joint.child for joint in list_moving(skeleton)]
    columns: list[list[str]] = []
    units: list[str] = []
    quantities: tuple[tuple[Figure, str], ...] = (("bending", "N·m"), ("shear", "N"))
    levels: tuple[Level, ...] = ("characteristic", "design")
    for figure, unit in quantities:
        plain = [_read_plain(assessment, figure)[name] for name in names]
        worst = [[found[name, figure, level].value_N_or_Nm for name in names] for level in levels]
        values = [plain, *worst]
        shown, scale = choose_unit([value for column in values for value in column if value is not None], unit)
        flat = format_column([None if value is None else value * scale for column in values for value in column])
        columns += [flat[k * len(names) : (k + 1) * len(names)] for k in range(3)]
        leading = [tell_leading(found[name, figure, "design"]) for name in names]
        told = shorten_names(leading, _LONGEST_LEADING)
        columns.append([told[name] for name in leading])
        units.append(shown)
    return tuple(Line(cells) for cells in zip(names, *columns, strict=True)), units[0], units[1]


def _read_plain(assessment: Assessment, figure: str) -> dict[str, float | None]:
    """Resultants under self-weight alone, by joint."""
    vectors = {load.child: load.bending_Nm if figure == "bending" else load.shear_N for load in assessment.joints}
    return {
        name: None if own is None else float((own @ own) ** 0.5) for name, own in vectors.items()
    }  # fmt: skip


def tell_missing(assessment: Assessment) -> str:
    """What would have to be known; empty where it is."""
    acted = assessment.acted
    return "not computed" if acted is None else "; ".join(acted.missing)


def tell_actions(site: Site) -> str:
    """What acts besides the weight, by name."""
    names = [action.name for action in site.actions] + ([WIND_NAME] if site.wind else [])
    return ", ".join(names) if names else "to which the site adds nothing"


def tell_expressions(factors: Factors) -> str:
    """By which expressions design values are summed."""
    names = [f"({expression.name})" for expression in list_strength(factors)]
    return "expression " + names[0] if len(names) == 1 else "the worse of expressions " + " and ".join(names)
