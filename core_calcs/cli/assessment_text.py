"""The figures of poses as lines: words of state beside symbol and colour."""

from __future__ import annotations

from rich.text import Text

from ..document.document import SkeletonDocument
from ..handover import report_sections as sections
from ..handover.casting_text import describe_castings
from ..handover.clearance_text import count_rest, list_hits
from ..handover.report_worst import list_worst_beams, tell_missing
from ..handover.state_marks import STATE_MARKS
from ..studies.assessment import Assessment, State
from ..studies.beams import find_beams
from .terminal import Terminal

CAUTION = (
    "Preliminary figures: a licensed structural engineer and local codes decide. Lifting, molten metal and "
    "lead-bearing alloys are for trained people; public access needs a risk assessment."
)


def show_material(terminal: Terminal, document: SkeletonDocument) -> None:
    """What is assessed, and what it is made of."""
    skeleton, build = document.skeleton, document.build
    material = build.material
    terminal.show_line(
        f"{skeleton.name}: {len(skeleton.elements)} elements cast in {material.name}, "
        f"{material.density_kg_m3:g} ± {material.density_uncertainty_kg_m3:g} kg/m³, "
        f"{describe_castings(skeleton, build)}"
    )
    terminal.show_line()


def show_assessment(terminal: Terminal, document: SkeletonDocument, assessment: Assessment) -> None:
    """Key figures, checks and feet of one pose."""
    terminal.show_line(f"pose {assessment.pose}", style="bold")
    figures = [
        (key.label, key.figure, _describe_state(key.state), key.note)
        for key in sections.list_key_figures(assessment, document.site)
    ]
    terminal.show_table(("figure", "", "state", ""), figures, right=(1,))
    terminal.show_line()
    checks = sections.list_checks(assessment)
    rows: list[list[str | Text]] = [[line.cells[0], _describe_state(line.state), *line.cells[1:]] for line in checks]
    terminal.show_table(("check", "state", "figure", "limit", "worst place, or what is missing"), rows, right=(2, 3))
    _show_hits(terminal, assessment)
    feet = sections.list_feet(assessment)
    if feet:
        terminal.show_line()
        heads = ("foot", "force", "least", "greatest", "share of the weight", "points")
        terminal.show_table(heads, [line.cells for line in feet], right=(1, 2, 3, 4, 5))
    _show_worst(terminal, document, assessment)
    terminal.show_line()


def _show_worst(terminal: Terminal, document: SkeletonDocument, assessment: Assessment) -> None:
    """The greatest design values along neck, trunk, tail and limbs under what acts."""
    terminal.show_line()
    if missing := tell_missing(assessment):
        terminal.show_line(f"joints and beams under what acts: not known ({missing})")
        return
    lines = list_worst_beams(assessment, find_beams(document.skeleton, assessment))
    if lines:
        heads = ("design values (STR)", "tension", "compression", "shear", "bending", "torsion")
        terminal.show_table(heads, [line.cells for line in lines])


def _show_hits(terminal: Terminal, assessment: Assessment) -> None:
    """What runs into what; nothing where nothing does, or nobody has looked."""
    hits = list_hits(assessment.clearance)
    if not hits:
        return
    terminal.show_line()
    heads = ("runs into", "state", "deeper by, mm", "allowed, mm", "at neutral, mm", "at x, y, z, m")
    rows: list[list[str | Text]] = [[line.cells[0], _describe_state(line.state), *line.cells[1:]] for line in hits]
    terminal.show_table(heads, rows, right=(2, 3, 4, 5))
    if rest := count_rest(assessment.clearance):
        terminal.show_line(f"and {rest} more: --json lists them all")


def _describe_state(state: State | None) -> Text:
    if state is None:
        return Text()
    mark = STATE_MARKS[state]
    # The grey of "not known" would sink on a dark terminal: it keeps the terminal's own colour.
    return Text(f"{mark.symbol} {state}", style="" if state == "not known" else mark.colour)
