"""The commands about what weighs: castings, discs, steelwork; and their options."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import click

from ..build.build import CastingKind
from ..skeleton.element import Series
from .options import (
    NOT_NEGATIVE,
    PATH,
    SOME,
    density_option,
    density_source_option,
    density_uncertainty_option,
    document_argument,
    json_option,
    material_option,
    struts_option,
    wall_option,
    wall_uncertainty_option,
)
from .terminal import make_terminal


@click.command("cast")
@document_argument
@click.option("--solid", "kind", flag_value="solid", help="Solid castings.")
@click.option("--bone", "kind", flag_value="bone", help="No castings but the bones themselves; of --material.")
@wall_option
@wall_uncertainty_option
@struts_option
@click.option(
    "--lattice-mm",
    type=(SOME, SOME),
    metavar="PITCH STRUT",
    help="Struts as a cubic lattice: how far apart, how thick; instead of their share.",
)
@click.option("--series", multiple=True, type=click.Choice(get_args(Series)), help="Only these; may be repeated.")
@click.option("--element", "elements", multiple=True, metavar="NAME", help="Only this one; may be repeated.")
@material_option
@density_option
@density_uncertainty_option
@density_source_option
@click.option(
    "--weighed",
    multiple=True,
    type=(str, SOME, NOT_NEGATIVE),
    metavar="NAME KG UNCERTAINTY",
    help="What a finished casting weighs: goes before the calculation; may be repeated.",
)
@click.option("--note", default="", help="Of the weighings: when, where, on what scales.")
@click.option(
    "--scale-uncertainty-percent", type=NOT_NEGATIVE, help="Half-width of the uncertainty of the scans' scale."
)
@json_option
def cast_command(
    document_path: Path,
    kind: CastingKind | None,
    wall_mm: float | None,
    wall_uncertainty_mm: float | None,
    struts_share: float,
    lattice_mm: tuple[float, float] | None,
    series: tuple[str, ...],
    elements: tuple[str, ...],
    material: str,
    density: float | None,
    density_uncertainty: float | None,
    density_source: str,
    weighed: tuple[tuple[str, float, float], ...],
    note: str,
    scale_uncertainty_percent: float | None,
    as_json: bool,
) -> None:
    """Say how the elements of a skeleton DOCUMENT are cast, and of what.

    A hollow casting is void where it is deeper than the wall. What is said of an element goes before what is said of
    its series, and that before what is said of all. Voids are measured on the mesh files, each once.
    """
    from ..build.build import Weighing
    from .casting import Order, make_casting, make_material, run_cast

    order = Order(
        document_path,
        make_material(material, density, density_uncertainty, density_source),
        make_casting(kind, wall_mm, wall_uncertainty_mm, struts_share, lattice_mm),
        series,
        elements,
        tuple(Weighing(name, kg, uncertainty, note) for name, kg, uncertainty in weighed),
        None if scale_uncertainty_percent is None else scale_uncertainty_percent / 100,
    )
    run_cast(make_terminal(as_json), order)


@click.command("discs")
@document_argument
@click.option("--joint", "joints", multiple=True, metavar="NAME", help="The joint of this element; may be repeated.")
@click.option("--all", "everywhere", is_flag=True, help="All joints whose facets leave a gap.")
@click.option("--material", default="", help="By its name in the table of materials.")
@density_option
@density_uncertainty_option
@density_source_option
@click.option("--thickness-mm", type=SOME, help="As wide as the gap is otherwise.")
@click.option("--thickness-uncertainty-mm", type=NOT_NEGATIVE, help="Half-width; a fifth of the thickness otherwise.")
@click.option("--area-cm2", type=SOME, help="As large as the facets are otherwise.")
@click.option("--weighed", type=(SOME, NOT_NEGATIVE), metavar="KG UNCERTAINTY", help="What each was found to weigh.")
@click.option("--remove", is_flag=True, help="Take the discs out.")
@click.option("--write", "folder", type=PATH, metavar="FOLDER", help="Write the discs' surfaces as STL; nothing else.")
@json_option
def discs_command(
    document_path: Path,
    joints: tuple[str, ...],
    everywhere: bool,
    material: str,
    density: float | None,
    density_uncertainty: float | None,
    density_source: str,
    thickness_mm: float | None,
    thickness_uncertainty_mm: float | None,
    area_cm2: float | None,
    weighed: tuple[float, float] | None,
    remove: bool,
    folder: Path | None,
    as_json: bool,
) -> None:
    """Put discs into joints of a skeleton DOCUMENT, or show those that are there.

    A disc goes with the element whose joint it is in. It weighs its thickness times its area, or what it was found to.
    """
    from ..studies.parts import DiscOrder
    from .casting import make_material
    from .parts import run_discs

    if folder is not None:
        from .disc_files import run_write_discs

        given = remove or material or density or thickness_mm or area_cm2 or weighed
        run_write_discs(make_terminal(as_json), document_path, joints, folder, bool(given))
        return
    made = make_material(material, density, density_uncertainty, density_source)
    order = None
    if made is not None:
        thickness, uncertainty = (None if mm is None else mm / 1000 for mm in (thickness_mm, thickness_uncertainty_mm))
        area = None if area_cm2 is None else area_cm2 / 1e4
        kg, kg_uncertainty = weighed or (None, 0.0)
        order = DiscOrder(made, thickness, uncertainty, area, kg, kg_uncertainty)
    run_discs(make_terminal(as_json), document_path, joints, everywhere, order, remove)


@click.command("steelwork")
@document_argument
@click.option("--name", default="", help="Of the steelwork; one of the same name is replaced.")
@click.option("--from", "start", default="", metavar="NAME", help="The element in which it begins.")
@click.option("--to", "end", default="", metavar="NAME", help="The element in which it ends.")
@click.option("--section", default="", help="By its name in the table of sections.")
@click.option("--tube-mm", type=(SOME, SOME), metavar="DIAMETER WALL", help="A round tube of these measures.")
@click.option("--bar-mm", type=SOME, metavar="DIAMETER", help="A round bar.")
@click.option("--kg-per-m", type=SOME, help="Any other section, named by --section.")
@click.option("--uncertainty-percent", type=NOT_NEGATIVE, help="Half-width of its mass by length; 6 otherwise.")
@click.option("--source", default="", help="Where that mass comes from.")
@click.option("--length-m", type=SOME, help="Of the whole; as far as it is along the joints otherwise.")
@click.option("--remove", default="", metavar="NAME", help="Take this steelwork out.")
@json_option
def steelwork_command(
    document_path: Path,
    name: str,
    start: str,
    end: str,
    section: str,
    tube_mm: tuple[float, float] | None,
    bar_mm: float | None,
    kg_per_m: float | None,
    uncertainty_percent: float | None,
    source: str,
    length_m: float | None,
    remove: str,
    as_json: bool,
) -> None:
    """Lay steel by length through elements of a skeleton DOCUMENT, or show what is there.

    It runs from the centre of one element through the joints to the centre of another; each element carries what runs
    in it. Its bore is not taken off the castings.
    """
    from .parts import choose_section, make_steelwork, require_ends, run_steelwork

    work = None
    if name or start or end:
        require_ends(name, start, end)
        share = None if uncertainty_percent is None else uncertainty_percent / 100
        work = make_steelwork(
            name, start, end, choose_section(section, tube_mm, bar_mm, kg_per_m, source), share, length_m
        )
    run_steelwork(make_terminal(as_json), document_path, work, remove)
