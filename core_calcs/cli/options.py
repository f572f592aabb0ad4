"""Options that several commands have, and the types of what they take."""

from __future__ import annotations

from pathlib import Path

import click

PATH = click.Path(path_type=Path)
SOME = click.FloatRange(min=0, min_open=True)
"""More than nothing."""
NOT_NEGATIVE = click.FloatRange(min=0)

document_argument = click.argument("document_path", metavar="DOCUMENT", type=PATH)
json_option = click.option("--json", "as_json", is_flag=True, help="Write the result as JSON to standard output.")
cache_option = click.option(
    "--cache",
    default="",
    metavar="FOLDER",
    help="Where joints that were found are kept, or 'off'; COUNTERPOISE_CACHE or the user's own folder otherwise.",
)
by_option = click.option(
    "--by",
    default="",
    envvar="COUNTERPOISE_BY",
    metavar="NAME",
    help="Who does it: it stands in the record. COUNTERPOISE_BY otherwise.",
)
pose_option = click.option(
    "--pose", "pose_names", multiple=True, metavar="NAME", help="Only this pose; may be repeated."
)

material_option = click.option("--material", default="", help="Of the castings, by its name in the table of materials.")
density_option = click.option(
    "--density", type=SOME, metavar="KG/M3", help="Of a material of your own, named by --material."
)
density_uncertainty_option = click.option(
    "--density-uncertainty", type=NOT_NEGATIVE, metavar="KG/M3", help="Half-width of its uncertainty."
)
density_source_option = click.option("--density-source", default="", help="Where that density comes from.")
wall_option = click.option("--wall-mm", type=SOME, help="Hollow castings with this wall; thinner parts stay solid.")
wall_uncertainty_option = click.option(
    "--wall-uncertainty-mm", type=NOT_NEGATIVE, help="Half-width of the wall's uncertainty; a fifth of it otherwise."
)
struts_option = click.option(
    "--struts-share", type=click.FloatRange(0, 1), default=0.0, help="Of the void that struts fill; none otherwise."
)
