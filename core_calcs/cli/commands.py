"""The commands and their options. What a command does is imported when it runs: help comes at once."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import click

from .. import __version__
from ..build.build import CastingKind
from ..skeleton.element import Series
from ..skeleton.joint import JointFamily, LimitSettings
from ..statics.site import Site
from .failures import CHECK_FAILS, PlainGroup
from .terminal import make_terminal

_PATH = click.Path(path_type=Path)
_SHARE = click.FloatRange(min=0)
_DEFAULTS = LimitSettings()
_json = click.option("--json", "as_json", is_flag=True, help="Write the result as JSON to standard output.")
_WALL = click.FloatRange(min=0, min_open=True)
_material = click.option("--material", default="", help="Of the castings, by its name in the table of materials.")
_wall = click.option("--wall-mm", type=_WALL, help="Hollow castings with this wall; thinner parts stay solid.")
_wall_doubt = click.option(
    "--wall-doubt-mm", type=click.FloatRange(min=0), help="Half-width of the wall's doubt; a fifth of it otherwise."
)
_struts = click.option(
    "--struts-share", type=click.FloatRange(0, 1), default=0.0, help="Of the void that struts fill; none otherwise."
)
_lattice = click.option(
    "--lattice-mm",
    type=(_WALL, _WALL),
    metavar="PITCH STRUT",
    help="Struts as a cubic lattice: how far apart, how thick; instead of their share.",
)
_pose = click.option("--pose", "pose_names", multiple=True, metavar="NAME", help="Only this pose; may be repeated.")


@click.group(cls=PlainGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="counterpoise")
def main() -> None:
    """From scanned elements to a posed skeleton's figures and a hand-over.

    \b
    Exit codes: 0 done; 2 wrong use; 3 mesh files; 4 element table; 5 skeleton
    document; 6 skeleton or pose; 7 cannot be written; 8 a check fails (assess
    --strict); 1 anything else that can be mended; 70 not foreseen; 130 interrupted.
    """


@main.command("survey")
@click.argument("folder", metavar="FOLDER", type=_PATH)
@click.option("--unit", default="mm", show_default=True, help="Of the files: m, cm, mm, in or ft.")
@click.option(
    "--table", "table_path", metavar="FILE", type=_PATH, help="Element table: checked if it is there, else proposed."
)
@click.option("--propose-again", is_flag=True, help="Write the proposal over a table that is there.")
@click.option(
    "--expect",
    multiple=True,
    metavar="NAME=COUNT",
    help="How many elements of a name (without number and side) or series there should be; may be repeated.",
)
@_json
def survey_command(
    folder: Path, unit: str, table_path: Path | None, propose_again: bool, expect: tuple[str, ...], as_json: bool
) -> None:
    """Look at every mesh file of a FOLDER and say what is in it.

    A table that is there is checked in its own units, and never written over unless --propose-again is given.
    """
    from .surveying import run_survey

    run_survey(make_terminal(as_json), folder, unit, table_path, propose_again, ",".join(expect))


@main.command("articulate")
@click.argument("table_path", metavar="TABLE", type=_PATH)
@click.option("--meshes", "mesh_folder", metavar="FOLDER", type=_PATH, required=True, help="Where the files are.")
@click.option("--document", "document_path", metavar="FILE", type=_PATH, required=True, help="To be written.")
@click.option("--name", default="", help="Of the skeleton; that of the document's file otherwise.")
@_material
@_wall
@_wall_doubt
@_struts
@click.option(
    "--overlap-share",
    type=click.FloatRange(0, 1),
    default=_DEFAULTS.overlap_share,
    show_default=True,
    help="Least share of a facet's contact that must stay covered.",
)
@click.option(
    "--contact-share", type=_SHARE, default=_DEFAULTS.contact_share_s, show_default=True, help="Contact allowed, in s."
)
@click.option(
    "--slide-share", type=_SHARE, default=_DEFAULTS.slide_share_s, show_default=True, help="Sliding allowed, in s."
)
@click.option(
    "--gap-share", type=_SHARE, default=_DEFAULTS.gap_share_s, show_default=True, help="Opening allowed, in s."
)
@click.option(
    "--search-deg",
    type=click.FloatRange(1, 180),
    default=60.0,
    show_default=True,
    help="How far limits are searched for in the column, in degrees.",
)
@click.option(
    "--limb-search-deg",
    type=click.FloatRange(1, 180),
    default=150.0,
    show_default=True,
    help="How far limits are searched for in the limbs, in degrees.",
)
@click.option(
    "--contact-tolerance-mm",
    type=click.FloatRange(min=0),
    default=1000 * Site().contact_tolerance_m,
    show_default=True,
    help="How far above the ground a foot's point may be and still stand on it.",
)
@click.option("--level", is_flag=True, help="Tilt the whole a little where more feet stand then.")
@click.option("--replace", is_flag=True, help="Write over a document that holds work of yours.")
@_json
def articulate_command(
    table_path: Path,
    mesh_folder: Path,
    document_path: Path,
    name: str,
    material: str,
    wall_mm: float | None,
    wall_doubt_mm: float | None,
    struts_share: float,
    overlap_share: float,
    contact_share: float,
    slide_share: float,
    gap_share: float,
    search_deg: float,
    limb_search_deg: float,
    contact_tolerance_mm: float,
    level: bool,
    replace: bool,
    as_json: bool,
) -> None:
    """Make a skeleton of an element TABLE and its mesh files.

    Limits are those of bone and facets at these settings, an outer bound of what the living joint did. s is the cube
    root of an element's volume.
    """
    import math

    from ..build.build import Casting
    from .articulating import Order, run_articulate
    from .casting import make_casting

    settings = LimitSettings(overlap_share, contact_share, slide_share, gap_share, math.radians(search_deg))
    site = Site(contact_tolerance_m=contact_tolerance_mm / 1000)
    name = name or document_path.stem
    casting = make_casting(None, wall_mm, wall_doubt_mm, struts_share) or Casting()
    order = Order(
        table_path, mesh_folder, document_path, name, material, casting, settings, math.radians(limb_search_deg), site,
        level, replace,
    )  # fmt: skip
    run_articulate(make_terminal(as_json), order)


@main.command("mark")
@click.argument("document_path", metavar="DOCUMENT", type=_PATH)
@click.option("--joint", "child", metavar="NAME", required=True, help="The element that hangs on the joint.")
@click.option(
    "--facet",
    "facets",
    multiple=True,
    required=True,
    type=(str, str),
    metavar="NAME FACES",
    help="Element and numbers of its file's faces, from 0: 0-17,25 or @FILE; once or once on each element.",
)
@click.option(
    "--family", type=click.Choice(get_args(JointFamily)), help="Of the joint; the plainest that fits otherwise."
)
@_json
def mark_command(
    document_path: Path, child: str, facets: tuple[tuple[str, str], ...], family: JointFamily | None, as_json: bool
) -> None:
    """Find a joint of a skeleton DOCUMENT anew from a facet marked by hand.

    For a joint that is ambiguous without help: the surface is fitted to the faces marked, and the limits follow.
    """
    from .marking import Order, run_mark

    run_mark(make_terminal(as_json), Order(document_path, child, facets, family))


@main.command("assess")
@click.argument("document_path", metavar="DOCUMENT", type=_PATH)
@_pose
@click.option("--strict", is_flag=True, help=f"End with code {CHECK_FAILS} if a check of any pose fails.")
@_material
@_wall
@click.option("--check-meshes", "with_meshes", is_flag=True, help="Compare every mesh file with its recorded SHA-256.")
@_json
def assess_command(
    document_path: Path,
    pose_names: tuple[str, ...],
    strict: bool,
    material: str,
    wall_mm: float | None,
    with_meshes: bool,
    as_json: bool,
) -> None:
    """Show the figures and checks of the poses of a skeleton DOCUMENT.

    With --material or --wall-mm as if all were cast so: the document is left as it is.
    """
    from .assessing import Trial, run_assess
    from .casting import make_casting, make_material

    trial = Trial(make_material(material, None, None, ""), make_casting(None, wall_mm, None, 0.0))
    sound = run_assess(make_terminal(as_json), document_path, pose_names, with_meshes, trial)
    if strict and not sound:
        click.get_current_context().exit(CHECK_FAILS)


@main.command("cast")
@click.argument("document_path", metavar="DOCUMENT", type=_PATH)
@click.option("--solid", "kind", flag_value="solid", help="Solid castings.")
@click.option("--bone", "kind", flag_value="bone", help="No castings but the bones themselves; of --material.")
@_wall
@_wall_doubt
@_struts
@_lattice
@click.option("--series", multiple=True, type=click.Choice(get_args(Series)), help="Only these; may be repeated.")
@click.option("--element", "elements", multiple=True, metavar="NAME", help="Only this one; may be repeated.")
@_material
@click.option("--density", type=_WALL, metavar="KG/M3", help="Of a material of your own, named by --material.")
@click.option("--density-doubt", type=click.FloatRange(min=0), metavar="KG/M3", help="Half-width of its doubt.")
@click.option("--density-source", default="", help="Where that density comes from.")
@click.option(
    "--weighed",
    multiple=True,
    type=(str, _WALL, click.FloatRange(min=0)),
    metavar="NAME KG DOUBT",
    help="What a finished casting weighs: goes before the calculation; may be repeated.",
)
@click.option("--note", default="", help="Of the weighings: when, where, on what scales.")
@click.option("--scale-doubt-percent", type=click.FloatRange(min=0), help="Half-width of doubt of the scans' scale.")
@_json
def cast_command(
    document_path: Path,
    kind: CastingKind | None,
    wall_mm: float | None,
    wall_doubt_mm: float | None,
    struts_share: float,
    lattice_mm: tuple[float, float] | None,
    series: tuple[str, ...],
    elements: tuple[str, ...],
    material: str,
    density: float | None,
    density_doubt: float | None,
    density_source: str,
    weighed: tuple[tuple[str, float, float], ...],
    note: str,
    scale_doubt_percent: float | None,
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
        make_material(material, density, density_doubt, density_source),
        make_casting(kind, wall_mm, wall_doubt_mm, struts_share, lattice_mm),
        series,
        elements,
        tuple(Weighing(name, kg, doubt, note) for name, kg, doubt in weighed),
        None if scale_doubt_percent is None else scale_doubt_percent / 100,
    )
    run_cast(make_terminal(as_json), order)


@main.command("contacts")
@click.argument("document_path", metavar="DOCUMENT", type=_PATH)
@click.option("--add", default="", metavar="NAME", help="Let the elements named touch the ground as one.")
@click.option("--element", "elements", multiple=True, metavar="NAME", help="That --add is about; may be repeated.")
@click.option("--remove", default="", metavar="NAME", help="A foot, or what was added before.")
@click.option("--pose", "pose_names", multiple=True, metavar="NAME", help="That --idle and --bear are about; else all.")
@click.option("--idle", multiple=True, metavar="NAME", help="A foot or contact that bears nothing; may be repeated.")
@click.option("--bear", multiple=True, metavar="NAME", help="One that bears where it touches; may be repeated.")
@_json
def contacts_command(
    document_path: Path,
    add: str,
    elements: tuple[str, ...],
    remove: str,
    pose_names: tuple[str, ...],
    idle: tuple[str, ...],
    bear: tuple[str, ...],
    as_json: bool,
) -> None:
    """Say what touches the ground in a skeleton DOCUMENT besides the feet, and what bears in which pose.

    What is said to touch bears in every pose in which it comes near enough to the ground, unless that pose lets it
    off. Without options: what touches and bears now.
    """
    from .contacts import Order, run_contacts

    order = Order(document_path, add, elements, remove, pose_names, idle, bear)
    run_contacts(make_terminal(as_json), order)


@main.command("handover")
@click.argument("document_path", metavar="DOCUMENT", type=_PATH)
@click.argument("folder", metavar="FOLDER", type=_PATH)
@_pose
@_json
def handover_command(document_path: Path, folder: Path, pose_names: tuple[str, ...], as_json: bool) -> None:
    """Write posed meshes, tables and reports of a skeleton DOCUMENT into a FOLDER.

    The folder appears whole or not at all; one that holds anything but an untouched hand-over is left alone.
    """
    from .handing_over import run_handover

    run_handover(make_terminal(as_json), document_path, folder, pose_names)
