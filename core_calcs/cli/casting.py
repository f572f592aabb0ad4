"""What `counterpoise cast` does."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import get_args

from ..build.build import Build, Casting, Material, Weighing
from ..build.materials import find_material
from ..document.document import SkeletonDocument
from ..document.meshes import locate_mesh_folder
from ..document.reading import read_document, write_document
from ..handover.casting_text import describe_casting, describe_weighings
from ..handover.quantities import format_figure
from ..handover.tables import plain_value
from ..skeleton.element import Series
from ..skeleton.pose import Pose
from ..spatial.errors import CounterpoiseError
from ..studies.assess import assess
from ..studies.assessment import Assessment, ElementMass
from ..studies.castings import apply_build, cast_all, cast_element, cast_series, note_weighings
from .assessment_text import show_material
from .terminal import Terminal


@dataclass(frozen=True)
class Order:
    """What the user asked for.

    material : None: as it is
    casting : of the elements and series named, or of all where none is; None: as it is
    scale_doubt_share : None: as it is
    """

    document_path: Path
    material: Material | None
    casting: Casting | None
    series: tuple[str, ...]
    elements: tuple[str, ...]
    weighings: tuple[Weighing, ...]
    scale_doubt_share: float | None


def make_material(name: str, density_kg_m3: float | None, doubt_kg_m3: float | None, source: str) -> Material | None:
    """A material of the table, or of one's own with its density, doubt and source; None where nothing is said."""
    if density_kg_m3 is None:
        if doubt_kg_m3 is not None or source:
            raise CounterpoiseError("material", "its doubt or source is given without a density", "give --density too")
        return find_material(name) if name else None
    if not name or doubt_kg_m3 is None or not source:
        what = "a density of one's own needs a name, a doubt and a source"
        raise CounterpoiseError("material", what, "give --material, --density-doubt and --density-source too")
    return Material(name, density_kg_m3, doubt_kg_m3, source)


def make_casting(
    solid: bool, wall_mm: float | None, wall_doubt_mm: float | None, struts_share: float
) -> Casting | None:
    """The casting that options ask for; None where they ask for none."""
    if wall_mm is None:
        if wall_doubt_mm is not None or struts_share:
            raise CounterpoiseError("casting", "only a hollow casting has a wall and struts", "give --wall-mm too")
        return Casting() if solid else None
    if solid:
        raise CounterpoiseError("casting", "it is either solid or has a wall", "give --solid or --wall-mm")
    doubt_m = wall_mm / 5000 if wall_doubt_mm is None else wall_doubt_mm / 1000
    return Casting("hollow", wall_mm / 1000, doubt_m, struts_share)


def run_cast(terminal: Terminal, order: Order) -> None:
    """Say how elements are cast, measure what that leaves hollow, and write the document."""
    document = read_document(order.document_path)
    build = _change_build(document, order)
    folder = locate_mesh_folder(document, order.document_path)
    with terminal.show_progress() as progress:
        changed = apply_build(document, build, folder, progress)
    found = assess(changed.skeleton, Pose("neutral"), changed.build, changed.site)
    if build != document.build:
        write_document(order.document_path, changed)
    _show_castings(terminal, changed, found)
    state = "as it was" if build == document.build else "written"
    terminal.show_line(f"{order.document_path}: {state}")
    result = {"document": str(order.document_path), "state": state, "build": plain_value(changed.build)}
    terminal.show_result(result | {"mass_kg": found.mass_kg, "elements": plain_value(found.masses)})


def _change_build(document: SkeletonDocument, order: Order) -> Build:
    build = document.build
    if order.material is not None:
        build = replace(build, material=order.material)
    if order.scale_doubt_share is not None:
        build = replace(build, scale_doubt_share=order.scale_doubt_share)
    if (order.series or order.elements) and order.casting is None:
        raise CounterpoiseError("casting", "nothing is said of how to cast them", "give --solid or --wall-mm too")
    if order.casting is not None and not order.series and not order.elements:
        build = cast_all(build, order.casting)
    for name in (*order.elements, *(weighing.element for weighing in order.weighings)):
        document.skeleton.index(name)
    for series in get_args(Series):
        if series in order.series and order.casting is not None:
            build = cast_series(build, series, order.casting)
    for element in order.elements:
        if order.casting is not None:
            build = cast_element(build, element, order.casting)
    return note_weighings(build, order.weighings)


def _show_castings(terminal: Terminal, document: SkeletonDocument, found: Assessment) -> None:
    show_material(terminal, document)
    solids = {element.name: element.solid.volume_m3 for element in document.skeleton.elements}
    groups: dict[str, list[ElementMass]] = {}
    for mass in found.masses:
        groups.setdefault(describe_casting(mass.casting), []).append(mass)
    rows = []
    for told, masses in groups.items():
        solid, metal = sum(solids[mass.element] for mass in masses), sum(mass.metal_m3 for mass in masses)
        massive = sum(mass.metal_m3 >= solids[mass.element] for mass in masses)
        share = f"{100 * metal / solid:.1f} %" if solid > 0 else ""
        kg = format_figure(sum(mass.mass_kg for mass in masses))
        rows.append((told, str(len(masses)), str(massive), share, kg))
    terminal.show_table(("cast", "elements", "without void", "metal", "kg"), rows, right=(1, 2, 3, 4))
    terminal.show_line()
    for sentence in describe_weighings(found.masses):
        terminal.show_line(sentence)
    terminal.show_line(f"The whole: {format_figure(found.mass_kg)} ± {format_figure(found.mass_doubt_kg, 2)} kg")
