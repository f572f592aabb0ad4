"""The command that puts a column together, and its options. What it does is imported when it runs."""

from __future__ import annotations

from pathlib import Path

import click

from .options import PATH, by_option, cache_option, document_argument, json_option
from .terminal import make_terminal


@click.command("assemble")
@document_argument
@click.option("--gap-mm", metavar="MM", help="Between the end plates of every joint; VENTRAL/DORSAL for a wedge.")
@click.option("--gap-share", metavar="SHARE", help="The same in sizes s of each joint.")
@click.option("--gap", "gaps", multiple=True, metavar="NAME=MM", help="Of the joint of one element; may be repeated.")
@click.option("--gaps", "table_path", type=PATH, metavar="FILE", help="A table of gaps, a row a joint.")
@click.option("--pin", "pins", multiple=True, metavar="NAME", help="An element that stays; may be repeated.")
@click.option("--from", "earlier_path", type=PATH, metavar="FILE", help="A document in which the facets are known.")
@click.option("--reason", default="", help="Why: it stands in the record.")
@by_option
@cache_option
@json_option
def assemble_command(
    document_path: Path,
    gap_mm: str | None,
    gap_share: str | None,
    gaps: tuple[str, ...],
    table_path: Path | None,
    pins: tuple[str, ...],
    earlier_path: Path | None,
    reason: str,
    by: str,
    cache: str,
    as_json: bool,
) -> None:
    """Put the column of a skeleton DOCUMENT together from elements that stand anywhere.

    Outwards from the root, or between elements that are pinned, each element is mated to the one before by the facets
    marked on both, or known from an earlier mounting. What hangs on it goes along. Then the joints are found anew.

    A gap is one figure, the mean, or two, 3.5/5: the disc's height at the ventral and at the dorsal rim.
    """
    from .assembling import Order, run_assemble

    order = Order(document_path, gap_mm, gap_share, gaps, table_path, pins, earlier_path, reason, by, cache)
    run_assemble(make_terminal(as_json), order)
