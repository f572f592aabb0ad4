"""The commands that show which bones are missing, and make one of another; and their options."""

from __future__ import annotations

from pathlib import Path

import click

from .options import PATH, by_option, cache_option, document_argument, json_option
from .terminal import make_terminal


@click.command("missing")
@document_argument
@click.option(
    "--expect",
    multiple=True,
    metavar="NAME=COUNT",
    help="How many elements of a name (without number and side) or series there should be; may be repeated.",
)
@json_option
def missing_command(document_path: Path, expect: tuple[str, ...], as_json: bool) -> None:
    """Show which bones seem to be missing in a skeleton DOCUMENT, what each could be made of, and which were made.

    Pairs of which one side is absent, numbers that nobody holds in a row, room between neighbours, and counts that
    fall short of what you expect. Nothing is changed.
    """
    from .bones import run_missing

    run_missing(make_terminal(as_json), document_path, ",".join(expect))


@click.command("add-bone")
@document_argument
@click.option("--name", metavar="NAME", required=True, help="Of the bone; the source's own mirrors it in its place.")
@click.option("--mirror-of", default="", metavar="NAME", help="Its partner on the other side.")
@click.option("--scale-of", default="", metavar="NAME", help="One of its row, whose shape it gets.")
@click.option("--parent", default="", metavar="NAME", help="What it hangs on; else as its partner or its neighbours.")
@click.option(
    "--position", type=click.IntRange(min=1), help="In its series; else its partner's, or what its name says."
)
@click.option(
    "--table", "table_path", metavar="FILE", type=PATH, help="Element table that is to have the bone too; written over."
)
@click.option("--reason", default="", help="Why: it stays in the record.")
@by_option
@cache_option
@json_option
def add_bone_command(
    document_path: Path,
    name: str,
    mirror_of: str,
    scale_of: str,
    parent: str,
    position: int | None,
    table_path: Path | None,
    reason: str,
    by: str,
    cache: str,
    as_json: bool,
) -> None:
    """Make a missing bone of a skeleton DOCUMENT of another: mirrored from the other side, or scaled from its row.

    Its surface is written into the folder `made` of the mesh folder. Document, file and hand-over say for ever how it
    was made and of which element. Joints are looked for as for a scanned bone; saved angles stay where a joint still
    turns. With --name and --mirror-of the same, a scan that is a mirror image is put right in its place.
    """
    from .bones import Order, run_add_bone

    order = Order(document_path, name, mirror_of, scale_of, parent, position, reason, by, cache, table_path)
    run_add_bone(make_terminal(as_json), order)
