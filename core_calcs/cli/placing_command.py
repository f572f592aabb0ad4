"""The command that places elements by hand, and its options."""

from __future__ import annotations

from pathlib import Path

import click

from .terminal import make_terminal


@click.command("place")
@click.argument("document_path", metavar="DOCUMENT", type=click.Path(path_type=Path))
@click.option("--element", default="", metavar="NAME", help="To be moved and turned; all that hangs on it goes along.")
@click.option("--move-mm", type=(float, float, float), metavar="X Y Z", help="Along the world's axes.")
@click.option(
    "--turn-deg",
    type=(float, float, float, float),
    metavar="AX AY AZ ANGLE",
    help="About an axis of that direction, by the right-hand rule; before the move.",
)
@click.option("--about-mm", type=(float, float, float), metavar="X Y Z", help="Point on the axis; else its centre.")
@click.option("--reason", default="", help="Why: it stays with the element.")
@click.option("--scanned", is_flag=True, help="Back to where it was scanned.")
@click.option("--also", default="", metavar="NAME", help="A second element that it follows, half and half.")
@click.option("--alone", is_flag=True, help="It follows its parent alone again.")
@click.option("--json", "as_json", is_flag=True, help="Write the result as JSON to standard output.")
def place_command(
    document_path: Path,
    element: str,
    move_mm: tuple[float, float, float] | None,
    turn_deg: tuple[float, float, float, float] | None,
    about_mm: tuple[float, float, float] | None,
    reason: str,
    scanned: bool,
    also: str,
    alone: bool,
    as_json: bool,
) -> None:
    """Move and turn an element of a skeleton DOCUMENT against its parent, for good: a correction, not a pose.

    For what no bone of a joint holds in place: shoulder blade, breastbone, chevron. All is said in the world of the
    neutral articulation (x to the head, y to the animal's left, z up) and counts from where the element stands now.
    With --also an element that is fixed follows a second one besides its parent in every pose, as a rib's head between
    two vertebrae does, or a chevron; what it carries still goes to its parent.

    Without options: what was placed by hand, and how far from its scan it stands.
    """
    from .placing import Order, run_place

    order = Order(document_path, element, move_mm, turn_deg, about_mm, reason, scanned, also, alone)
    run_place(make_terminal(as_json), order)
