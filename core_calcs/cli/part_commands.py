"""The commands about discs and steelwork, and their options."""

from __future__ import annotations

from pathlib import Path

import click

from .terminal import make_terminal

_PATH = click.Path(path_type=Path)
_SOME = click.FloatRange(min=0, min_open=True)
_DOUBT = click.FloatRange(min=0)
_document = click.argument("document_path", metavar="DOCUMENT", type=_PATH)
_json = click.option("--json", "as_json", is_flag=True, help="Write the result as JSON to standard output.")


def add_part_commands(main: click.Group) -> None:
    """Give a group of commands those of this module."""
    for command in (discs_command, steelwork_command):
        main.add_command(command)


@click.command("discs")
@_document
@click.option("--joint", "joints", multiple=True, metavar="NAME", help="The joint of this element; may be repeated.")
@click.option("--all", "everywhere", is_flag=True, help="All joints whose facets leave a gap.")
@click.option("--material", default="", help="By its name in the table of materials.")
@click.option("--density", type=_SOME, metavar="KG/M3", help="Of a material of your own, named by --material.")
@click.option("--density-doubt", type=_DOUBT, metavar="KG/M3", help="Half-width of its doubt.")
@click.option("--density-source", default="", help="Where that density comes from.")
@click.option("--thickness-mm", type=_SOME, help="As wide as the gap is otherwise.")
@click.option("--thickness-doubt-mm", type=_DOUBT, help="Half-width; a fifth of the thickness otherwise.")
@click.option("--area-cm2", type=_SOME, help="As large as the facets are otherwise.")
@click.option("--weighed", type=(_SOME, _DOUBT), metavar="KG DOUBT", help="What each was found to weigh.")
@click.option("--remove", is_flag=True, help="Take the discs out.")
@_json
def discs_command(
    document_path: Path,
    joints: tuple[str, ...],
    everywhere: bool,
    material: str,
    density: float | None,
    density_doubt: float | None,
    density_source: str,
    thickness_mm: float | None,
    thickness_doubt_mm: float | None,
    area_cm2: float | None,
    weighed: tuple[float, float] | None,
    remove: bool,
    as_json: bool,
) -> None:
    """Put discs into joints of a skeleton DOCUMENT, or show those that are there.

    A disc goes with the element whose joint it is in. It weighs its thickness times its area, or what it was found to.
    """
    from ..studies.parts import DiscOrder
    from .casting import make_material
    from .parts import run_discs

    made = make_material(material, density, density_doubt, density_source)
    order = None
    if made is not None:
        thickness, doubt = (None if mm is None else mm / 1000 for mm in (thickness_mm, thickness_doubt_mm))
        area = None if area_cm2 is None else area_cm2 / 1e4
        kg, kg_doubt = weighed or (None, 0.0)
        order = DiscOrder(made, thickness, doubt, area, kg, kg_doubt)
    run_discs(make_terminal(as_json), document_path, joints, everywhere, order, remove)


@click.command("steelwork")
@_document
@click.option("--name", default="", help="Of the steelwork; one of the same name is replaced.")
@click.option("--from", "start", default="", metavar="NAME", help="The element in which it begins.")
@click.option("--to", "end", default="", metavar="NAME", help="The element in which it ends.")
@click.option("--section", default="", help="By its name in the table of sections.")
@click.option("--tube-mm", type=(_SOME, _SOME), metavar="DIAMETER WALL", help="A round tube of these measures.")
@click.option("--bar-mm", type=_SOME, metavar="DIAMETER", help="A round bar.")
@click.option("--kg-per-m", type=_SOME, help="Any other section, named by --section.")
@click.option("--doubt-percent", type=_DOUBT, help="Half-width of its mass by length; 6 otherwise.")
@click.option("--source", default="", help="Where that mass comes from.")
@click.option("--length-m", type=_SOME, help="Of the whole; as far as it is along the joints otherwise.")
@click.option("--remove", default="", metavar="NAME", help="Take this steelwork out.")
@_json
def steelwork_command(
    document_path: Path,
    name: str,
    start: str,
    end: str,
    section: str,
    tube_mm: tuple[float, float] | None,
    bar_mm: float | None,
    kg_per_m: float | None,
    doubt_percent: float | None,
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
        share = None if doubt_percent is None else doubt_percent / 100
        work = make_steelwork(
            name, start, end, choose_section(section, tube_mm, bar_mm, kg_per_m, source), share, length_m
        )
    run_steelwork(make_terminal(as_json), document_path, work, remove)
