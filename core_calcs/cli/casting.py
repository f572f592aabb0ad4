"""What `counterpoise cast` does."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import get_args

from ..build.build import Build, Casting, CastingKind, Material, Weighing
from ..build.castings import find_casting
from ..build.lattices import LATTICE_UNCERTAINTY_SHARE, fill_lattice
from ..build.materials import BONES, find_material
from ..document.document import SkeletonDocument
from ..document.meshes import locate_mesh_folder
from ..document.reading import read_document, write_document
from ..handover.casting_text import describe_casting, describe_pits, describe_weighings
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

    material : of the castings of the elements and series named, or of all where none is; None: as it is
    casting : of the same; None: as it is
    scale_uncertainty_share : None: as it is
    """

    document_path: Path
    material: Material | None
    casting: Casting | None
    series: tuple[str, ...]
    elements: tuple[str, ...]
    weighings: tuple[Weighing, ...]
    scale_uncertainty_share: float | None


def make_material(
    name: str, density_kg_m3: float | None, uncertainty_kg_m3: float | None, source: str
) -> Material | None:
    """A material of the table, or of one's own with its density, uncertainty and source; None where nothing is said."""
    if density_kg_m3 is None:
        if uncertainty_kg_m3 is not None or source:
            raise CounterpoiseError(
                "material", "its uncertainty or source is given without a density", "give --density too"
            )
        return find_material(name) if name else None
    if not name or uncertainty_kg_m3 is None or not source:
        what = "a density of one's own needs a name, an uncertainty and a source"
        raise CounterpoiseError("material", what, "give --material, --density-uncertainty and --density-source too")
    return Material(name, density_kg_m3, uncertainty_kg_m3, source)


def make_casting(
    kind: CastingKind | None,
    wall_mm: float | None,
    wall_uncertainty_mm: float | None,
    struts_share: float,
    lattice_mm: tuple[float, float] | None = None,
) -> Casting | None:
    """The casting that options ask for; None where they ask for none.

    kind : solid or bone where that is asked for
    lattice_mm : pitch and thickness of the struts, instead of their share
    """
    if wall_mm is None:
        if wall_uncertainty_mm is not None or struts_share or lattice_mm:
            raise CounterpoiseError("casting", "only a hollow casting has a wall and struts", "give --wall-mm too")
        return None if kind is None else Casting(kind)
    if kind is not None:
        raise CounterpoiseError("casting", "it is either solid or has a wall", "give --solid, --bone or --wall-mm")
    uncertainty_m = wall_mm / 5000 if wall_uncertainty_mm is None else wall_uncertainty_mm / 1000
    if lattice_mm is None:
        return Casting("hollow", wall_mm / 1000, uncertainty_m, struts_share)
    if struts_share:
        raise CounterpoiseError("struts", "their share is given twice", "give --struts-share or --lattice-mm")
    share = fill_lattice(*(length / 1000 for length in lattice_mm))
    return Casting("hollow", wall_mm / 1000, uncertainty_m, share, LATTICE_UNCERTAINTY_SHARE * share)


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
    if order.scale_uncertainty_share is not None:
        build = replace(build, scale_uncertainty_share=order.scale_uncertainty_share)
    for name in (*order.elements, *(weighing.element for weighing in order.weighings)):
        document.skeleton.index(name)
    build = _change_named(document, build, order) if order.series or order.elements else _change_all(build, order)
    return note_weighings(build, order.weighings)


def _change_all(build: Build, order: Order) -> Build:
    if order.casting is not None and order.casting.kind == "bone":
        return cast_all(build, replace(order.casting, material=_require_bone(order.material)))
    if order.material is not None:
        build = replace(build, material=order.material)
    return build if order.casting is None else cast_all(build, order.casting)


def _change_named(document: SkeletonDocument, build: Build, order: Order) -> Build:
    """Casting or material of series and elements; what is not said stays as it is."""
    if order.casting is None and order.material is None:
        what = "nothing is said of how to cast them, or of what"
        raise CounterpoiseError("casting", what, "give --solid, --wall-mm, --bone or --material too")
    for series in get_args(Series):
        if series in order.series:
            members = [element for element in document.skeleton.elements if element.series == series]
            present = next((own.casting for own in build.series_castings if own.series == series), build.casting)
            if not members:
                raise CounterpoiseError(f"series {series}", "the skeleton has no element of it", "name another")
            build = cast_series(build, series, _change_casting(present, order))
    for name in order.elements:
        element = document.skeleton.elements[document.skeleton.index(name)]
        build = cast_element(build, name, _change_casting(find_casting(build, element), order))
    return build


def _change_casting(present: Casting, order: Order) -> Casting:
    casting = order.casting
    if casting is None:
        return replace(present, material=order.material)
    if casting.kind == "bone":
        return replace(casting, material=_require_bone(order.material))
    kept = None if present.kind == "bone" else present.material
    return replace(casting, material=order.material or kept)


def _require_bone(material: Material | None) -> Material:
    if material is None:
        known = ", ".join(bone.name for bone in BONES)
        raise CounterpoiseError("bone", "no density is given", f"give --material: {known}, or one of your own")
    return material


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
    for sentence in (describe_pits(found.masses), *describe_weighings(found.masses)):
        if sentence:
            terminal.show_line(sentence)
    terminal.show_line(f"The whole: {format_figure(found.mass_kg)} ± {format_figure(found.mass_uncertainty_kg, 2)} kg")
