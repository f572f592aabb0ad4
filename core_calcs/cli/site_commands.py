"""The commands that say where the skeleton stands and what acts on it there, and their options."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import click

from ..site.actions import DEFAULT_N, ActionKind
from ..studies.site_names import FACTORS, Spot
from .options import by_option, document_argument, json_option
from .terminal import make_terminal


@click.command("site")
@document_argument
@click.option("--ground-mm", type=float, help="Height of the ground in the world.")
@click.option("--datum-mm", type=(float, float), metavar="X Y", help="Point that base moments are taken about.")
@click.option("--datum-height-mm", type=float, metavar="Z", help="Its height in the world.  [default: on the ground]")
@click.option("--datum-middle", is_flag=True, help="They are taken about the middle of the support polygon again.")
@click.option("--reserve-mm", type=float, help="A margin against tipping smaller than this counts as close.")
@click.option("--friction", type=float, help="Coefficient under every foot whose footing names none.")
@click.option("--friction-unknown", is_flag=True, help="It is not known.")
@click.option("--wind-pa", type=float, metavar="PA", help="Characteristic peak velocity pressure.")
@click.option("--force-coefficient", type=float, help="Of the silhouette: 1.2 for round members, 2 for plates.")
@click.option("--no-wind", is_flag=True, help="None acts.")
@click.option("--directions", type=int, help="So many all round, for wind and pushes that are worst somewhere.")
@click.option("--foot", default="", metavar="NAME", help="That the next six options are about.")
@click.option("--height-mm", type=float, help="Of the ground under the foot, above the site's.")
@click.option("--stiffness-kn-mm", type=float, help="Of the foot and what is under it, vertically.")
@click.option("--foot-friction", type=float, help="Under this foot alone.")
@click.option("--anchored", is_flag=True, help="Anchors hold it down.")
@click.option("--anchor-kn", type=float, help="Tension that its anchors hold; they hold it down then.")
@click.option("--no-footing", is_flag=True, help="Take what was said of the foot back.")
@click.option(
    "--factor",
    "factors",
    multiple=True,
    type=(click.Choice(FACTORS), float),
    metavar="NAME VALUE",
    help="Another partial factor, recorded; may be repeated.",
)
@click.option("--default-factors", is_flag=True, help="All factors as they were.")
@click.option("--reason", default="", help="Why factors are changed: it stands in the record.")
@by_option
@json_option
def site_command(
    document_path: Path,
    ground_mm: float | None,
    datum_mm: tuple[float, float] | None,
    datum_height_mm: float | None,
    datum_middle: bool,
    reserve_mm: float | None,
    friction: float | None,
    friction_unknown: bool,
    wind_pa: float | None,
    force_coefficient: float | None,
    no_wind: bool,
    directions: int | None,
    foot: str,
    height_mm: float | None,
    stiffness_kn_mm: float | None,
    foot_friction: float | None,
    anchored: bool,
    anchor_kn: float | None,
    no_footing: bool,
    factors: tuple[tuple[str, float], ...],
    default_factors: bool,
    reason: str,
    by: str,
    as_json: bool,
) -> None:
    """Say where the skeleton of a DOCUMENT stands: ground, friction, wind, what is under each foot, partial factors.

    What is not given stays. Only factors are recorded. Wind is one pressure on the silhouette of everything, from
    every direction in turn; codes in full are not calculated: a licensed engineer decides.

    Without options: what is said of the site now.
    """
    from .siting import Order, run_site

    order = Order(
        document_path, ground_mm, datum_mm, datum_height_mm, datum_middle, reserve_mm, friction, friction_unknown,
        wind_pa, force_coefficient, no_wind, directions, foot, height_mm, stiffness_kn_mm, foot_friction, anchored,
        anchor_kn, no_footing, factors, default_factors, reason, by,
    )  # fmt: skip
    run_site(make_terminal(as_json), order)


@click.command("actions")
@document_argument
@click.option("--add", "kind", type=click.Choice(tuple(DEFAULT_N)), help="A push, a pull, or a person's weight.")
@click.option("--element", default="", metavar="NAME", help="That it acts on.")
@click.option("--at-mm", type=(float, float, float), metavar="X Y Z", help="Point in the element's own frame.")
@click.option(
    "--spot",
    type=click.Choice(get_args(Spot)),
    help="Or a point of its surface: highest, lowest, farthest left or right at neutral; tip: farthest from its joint.",
)
@click.option("--kn", type=float, help="Force; 1.5 for a push or pull, 2 for a person otherwise.")
@click.option(
    "--direction",
    type=(float, float, float),
    metavar="X Y Z",
    help="In the world; else horizontal, in the worst direction.",
)
@click.option("--name", default="", help="Of the action; the kind and the element otherwise.")
@click.option("--remove", default="", metavar="NAME", help="Take an action out.")
@click.option("--silhouettes", is_flag=True, help="Measure what every pose shows to the wind.")
@json_option
def actions_command(
    document_path: Path,
    kind: ActionKind | None,
    element: str,
    at_mm: tuple[float, float, float] | None,
    spot: Spot | None,
    kn: float | None,
    direction: tuple[float, float, float] | None,
    name: str,
    remove: str,
    silhouettes: bool,
    as_json: bool,
) -> None:
    """Say what acts on the skeleton of a DOCUMENT besides its weight: pushes, pulls, people; wind is of the site.

    An action stands at a point of an element and goes with it into every pose. A push or pull without a direction is
    level and tried in every one; a person's weight acts straight down.

    Without options: what acts now, and how high in every pose.
    """
    from .acting import Order, run_actions

    order = Order(document_path, kind, element, at_mm, spot, kn, direction, name, remove, silhouettes)
    run_actions(make_terminal(as_json), order)
