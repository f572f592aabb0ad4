"""The commands from the scans to a skeleton, and their options. What they do is imported when they run."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import click

from ..site.site import Site
from ..skeleton.joint import FacetKind, JointFamily, LimitSettings
from .options import (
    NOT_NEGATIVE,
    PATH,
    by_option,
    cache_option,
    document_argument,
    json_option,
    material_option,
    struts_option,
    wall_option,
    wall_uncertainty_option,
)
from .terminal import make_terminal

_DEFAULTS = LimitSettings()


@click.command("survey")
@click.argument("folder", metavar="FOLDER", type=PATH)
@click.option("--unit", default="mm", show_default=True, help="Of the files: m, cm, mm, in or ft.")
@click.option(
    "--table", "table_path", metavar="FILE", type=PATH, help="Element table: checked if it is there, else proposed."
)
@click.option("--propose-again", is_flag=True, help="Write the proposal over a table that is there.")
@click.option(
    "--expect",
    multiple=True,
    metavar="NAME=COUNT",
    help="How many elements of a name (without number and side) or series there should be; may be repeated.",
)
@json_option
def survey_command(
    folder: Path, unit: str, table_path: Path | None, propose_again: bool, expect: tuple[str, ...], as_json: bool
) -> None:
    """Look at every mesh file of a FOLDER and say what is in it.

    A table that is there is checked in its own units, and never written over unless --propose-again is given.
    """
    from .surveying import run_survey

    run_survey(make_terminal(as_json), folder, unit, table_path, propose_again, ",".join(expect))


@click.command("articulate")
@click.argument("table_path", metavar="TABLE", type=PATH)
@click.option("--meshes", "mesh_folder", metavar="FOLDER", type=PATH, required=True, help="Where the files are.")
@click.option("--document", "document_path", metavar="FILE", type=PATH, required=True, help="To be written.")
@click.option("--name", default="", help="Of the skeleton; that of the document's file otherwise.")
@material_option
@wall_option
@wall_uncertainty_option
@struts_option
@click.option(
    "--overlap-share",
    type=click.FloatRange(0, 1),
    default=_DEFAULTS.overlap_share,
    show_default=True,
    help="Least share of a facet's contact that must stay covered.",
)
@click.option(
    "--contact-share",
    type=NOT_NEGATIVE,
    default=_DEFAULTS.contact_share_s,
    show_default=True,
    help="Contact allowed, in s.",
)
@click.option(
    "--slide-share",
    type=NOT_NEGATIVE,
    default=_DEFAULTS.slide_share_s,
    show_default=True,
    help="Sliding allowed, in s.",
)
@click.option(
    "--gap-share", type=NOT_NEGATIVE, default=_DEFAULTS.gap_share_s, show_default=True, help="Opening allowed, in s."
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
    type=NOT_NEGATIVE,
    default=1000 * Site().contact_tolerance_m,
    show_default=True,
    help="How far above the ground a foot's point may be and still stand on it.",
)
@click.option(
    "--clearance-share",
    type=NOT_NEGATIVE,
    default=Site().clearance_share_s,
    show_default=True,
    help="How deep elements may run into each other in a pose, in sizes of the smaller.",
)
@click.option("--loose", is_flag=True, help="The column's elements stand anywhere: they wait to be assembled.")
@click.option("--level", is_flag=True, help="Tilt the whole a little where more feet stand then.")
@click.option("--replace", is_flag=True, help="Write over a document that holds work of yours.")
@cache_option
@json_option
def articulate_command(
    table_path: Path,
    mesh_folder: Path,
    document_path: Path,
    name: str,
    material: str,
    wall_mm: float | None,
    wall_uncertainty_mm: float | None,
    struts_share: float,
    overlap_share: float,
    contact_share: float,
    slide_share: float,
    gap_share: float,
    search_deg: float,
    limb_search_deg: float,
    contact_tolerance_mm: float,
    clearance_share: float,
    loose: bool,
    level: bool,
    replace: bool,
    cache: str,
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
    site = Site(contact_tolerance_m=contact_tolerance_mm / 1000, clearance_share_s=clearance_share)
    name = name or document_path.stem
    casting = make_casting(None, wall_mm, wall_uncertainty_mm, struts_share) or Casting()
    order = Order(
        table_path, mesh_folder, document_path, name, material, casting, settings, math.radians(limb_search_deg), site,
        level, replace, cache, loose,
    )  # fmt: skip
    run_articulate(make_terminal(as_json), order)


VERTEBRAL = get_args(FacetKind)[:3]


@click.command("mark")
@document_argument
@click.option("--joint", "child", metavar="NAME", required=True, help="The element that hangs on the joint.")
@click.option(
    "--facet",
    "facets",
    multiple=True,
    required=True,
    type=(str, str),
    metavar="NAME FACES",
    help="Element and numbers of its file's faces, from 0: 0-17,25 or @FILE; once or once for each facet.",
)
@click.option(
    "--family", type=click.Choice(get_args(JointFamily)), help="Of a limb's joint; the plainest that fits otherwise."
)
@click.option("--kind", type=click.Choice(VERTEBRAL), help="Of a vertebra's facet; by its place otherwise.")
@by_option
@cache_option
@json_option
def mark_command(
    document_path: Path,
    child: str,
    facets: tuple[tuple[str, str], ...],
    family: JointFamily | None,
    kind: FacetKind | None,
    by: str,
    cache: str,
    as_json: bool,
) -> None:
    """Find a joint of a skeleton DOCUMENT anew from facets marked by hand.

    For a joint that is ambiguous, or was found from other facets than yours: of a limb the surface is fitted to the
    faces marked, in the column they are the facet, and the limits follow. What is marked wins over what was found.
    """
    from .marking import Order, run_mark

    run_mark(make_terminal(as_json), Order(document_path, child, facets, family, cache, kind, by))


@click.command("search")
@document_argument
@click.option("--joint", "child", metavar="NAME", required=True, help="The element that hangs on the joint.")
@click.option(
    "--overlap-share", type=click.FloatRange(0, 1), help="Least share of a facet's contact that must stay covered."
)
@click.option("--contact-share", type=NOT_NEGATIVE, help="Contact allowed, in s.")
@click.option("--slide-share", type=NOT_NEGATIVE, help="Sliding allowed, in s.")
@click.option("--gap-share", type=NOT_NEGATIVE, help="Opening allowed, in s.")
@click.option("--search-deg", type=click.FloatRange(1, 180), help="How far limits are searched for, in degrees.")
@click.option("--from-nothing", is_flag=True, help="Drop what was set by hand: frame, limits, marks, that it is fixed.")
@by_option
@cache_option
@json_option
def search_command(
    document_path: Path,
    child: str,
    overlap_share: float | None,
    contact_share: float | None,
    slide_share: float | None,
    gap_share: float | None,
    search_deg: float | None,
    from_nothing: bool,
    by: str,
    cache: str,
    as_json: bool,
) -> None:
    """Find the facets and limits of a joint of a skeleton DOCUMENT anew, with its own settings or others.

    What is not given stays. Facets marked by hand stay what the joint is found from, a frame moved by hand stays where
    it is; a joint set or fixed by hand is left alone, unless it is searched for from nothing. Saved angles stay.
    """
    import math

    from .searching import Order, run_search

    given = {
        "overlap_share": overlap_share,
        "contact_share_s": contact_share,
        "slide_share_s": slide_share,
        "gap_share_s": gap_share,
        "search_rad": None if search_deg is None else math.radians(search_deg),
    }
    settings = {name: value for name, value in given.items() if value is not None}
    run_search(make_terminal(as_json), Order(document_path, child, settings, from_nothing, cache, by))
