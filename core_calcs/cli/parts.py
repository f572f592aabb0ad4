"""What `counterpoise discs` and `counterpoise steelwork` do."""

from __future__ import annotations

from pathlib import Path

from ..build.build import Build, Steelwork
from ..build.sections import MASS_UNCERTAINTY_SHARE, TABLE_SOURCE, Section, find_section, make_section
from ..document.document import SkeletonDocument
from ..document.editing import set_build
from ..document.reading import read_document, write_document
from ..handover.part_text import describe_parts
from ..handover.quantities import format_figure
from ..handover.tables import plain_value
from ..skeleton.pose import Pose
from ..spatial.errors import CounterpoiseError
from ..studies.assess import assess
from ..studies.parts import DiscOrder, lay_steelwork, list_gaps, remove_discs, remove_steelwork, set_discs
from .terminal import Terminal

SectionMass = tuple[str, float, str]
"""Name, mass by length [kg/m] and where that comes from."""


def choose_section(
    name: str, tube_mm: tuple[float, float] | None, bar_mm: float | None, kg_per_m: float | None, source: str
) -> SectionMass:
    """The section that options ask for; CounterpoiseError where they ask for none, or for several."""
    if sum(given is not None for given in (tube_mm, bar_mm, kg_per_m)) > 1:
        raise CounterpoiseError("section", "it is given twice", "give one of --tube-mm, --bar-mm and --kg-per-m")
    if kg_per_m is not None:
        if not name or not source:
            what = "a section by its mass needs a name and a source"
            raise CounterpoiseError("section", what, "give --section and --source too")
        return name, kg_per_m, source
    if tube_mm is not None or bar_mm is not None:
        section: Section = make_section(*(tube_mm or (bar_mm or 0.0, None)))
    else:
        section = find_section(name)
    return section.name, section.kg_per_m, source or TABLE_SOURCE


def require_ends(name: str, start: str, end: str) -> None:
    """CounterpoiseError where a steelwork lacks its name or an end."""
    if not (name and start and end):
        raise CounterpoiseError("steelwork", "it needs a name and two elements", "give --name, --from and --to")


def make_steelwork(
    name: str, start: str, end: str, section: SectionMass, uncertainty_share: float | None, length_m: float | None
) -> Steelwork:
    """The steelwork that options ask for."""
    told, kg_per_m, source = section
    share = MASS_UNCERTAINTY_SHARE if uncertainty_share is None else uncertainty_share
    return Steelwork(name, start, end, told, kg_per_m, share * kg_per_m, source, length_m)


def run_discs(
    terminal: Terminal,
    document_path: Path,
    joints: tuple[str, ...],
    everywhere: bool,
    order: DiscOrder | None,
    remove: bool,
) -> None:
    """Put discs in, take them out, or show them; the document is written where something changed."""
    document = read_document(document_path)
    build = document.build
    if remove:
        build = remove_discs(build, [disc.child for disc in build.discs] if everywhere else joints)
    elif joints or everywhere:
        if order is None:
            raise CounterpoiseError("discs", "no material is given", "give --material too")
        build = set_discs(build, document.skeleton, list_gaps(document.skeleton) if everywhere else joints, order)
    elif order is not None:
        raise CounterpoiseError("discs", "no joints are named that they go into", "give --joint or --all too")
    _finish(terminal, document_path, document, build)


def run_steelwork(terminal: Terminal, document_path: Path, work: Steelwork | None, remove: str) -> None:
    """Lay steelwork, take it out, or show it; the document is written where something changed."""
    document = read_document(document_path)
    build = document.build
    if remove:
        build = remove_steelwork(build, remove)
    if work is not None:
        build = lay_steelwork(build, document.skeleton, work)
    _finish(terminal, document_path, document, build)


def _finish(terminal: Terminal, path: Path, document: SkeletonDocument, build: Build) -> None:
    changed = set_build(document, build)
    found = assess(changed.skeleton, Pose("neutral"), changed.build, changed.site)
    if build != document.build:
        write_document(path, changed)
    for sentence in describe_parts(changed.skeleton, build, found.parts) or ("No discs and no steelwork.",):
        terminal.show_line(sentence)
    terminal.show_line(f"The whole: {format_figure(found.mass_kg)} ± {format_figure(found.mass_uncertainty_kg, 2)} kg")
    state = "as it was" if build == document.build else "written"
    terminal.show_line(f"{path}: {state}")
    result = {"document": str(path), "state": state, "discs": plain_value(build.discs)}
    result |= {"steelwork": plain_value(build.steelwork), "parts": plain_value(found.parts)}
    terminal.show_result(result | {"mass_kg": found.mass_kg})
