"""The commands that say what the scans do not: what touches the ground, where an element belongs; and their options."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import click

from ..skeleton.element import Series
from .options import NOT_NEGATIVE, by_option, cache_option, document_argument, json_option
from .terminal import make_terminal


@click.command("contacts")
@document_argument
@click.option("--add", default="", metavar="NAME", help="Let the elements named touch the ground as one.")
@click.option("--element", "elements", multiple=True, metavar="NAME", help="That --add is about; may be repeated.")
@click.option("--remove", default="", metavar="NAME", help="A foot, or what was added before.")
@click.option("--pose", "pose_names", multiple=True, metavar="NAME", help="That --idle and --bear are about; else all.")
@click.option("--idle", multiple=True, metavar="NAME", help="A foot or contact that bears nothing; may be repeated.")
@click.option("--bear", multiple=True, metavar="NAME", help="One that bears where it touches; may be repeated.")
@json_option
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


@click.command("place")
@document_argument
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
@by_option
@json_option
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
    by: str,
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

    order = Order(document_path, element, move_mm, turn_deg, about_mm, reason, scanned, also, alone, by)
    run_place(make_terminal(as_json), order)


@click.command("neutral")
@document_argument
@click.option("--joint", "children", multiple=True, metavar="NAME", help="The joint of this element; may be repeated.")
@click.option(
    "--series", multiple=True, type=click.Choice(get_args(Series)), help="All joints of this series; may be repeated."
)
@click.option("--all", "everywhere", is_flag=True, help="All joints between end plates: the whole column.")
@click.option("--disc-mm", type=NOT_NEGATIVE, help="How thick the disc is, cartilage included.")
@click.option("--disc-share", type=NOT_NEGATIVE, help="The same in s, the joint's size.")
@click.option("--as-scanned", "scanned", is_flag=True, help="As thick as the gap that was scanned.")
@click.option("--reason", default="", help="Why: it stays with the joint.")
@by_option
@cache_option
@json_option
def neutral_command(
    document_path: Path,
    children: tuple[str, ...],
    series: tuple[Series, ...],
    everywhere: bool,
    disc_mm: float | None,
    disc_share: float | None,
    scanned: bool,
    reason: str,
    by: str,
    cache: str,
    as_json: bool,
) -> None:
    """Say how thick discs are in the neutral articulation of a skeleton DOCUMENT, where the scanned gap is wrong.

    Scans lack cartilage, and mounts have gaps of their own. The element is moved along the column, with all that hangs
    on it, until the mean gap of the two end plates is what you say; centre, limits and envelope are found anew there.
    Saved angles stay, and so do frames and limits that were set by hand.

    Without options: how thick the discs are now, and which were set.
    """
    from .neutral import Order, run_neutral

    order = Order(document_path, children, series, everywhere, disc_mm, disc_share, scanned, reason, cache, by)
    run_neutral(make_terminal(as_json), order)


@click.command("records")
@document_argument
@json_option
def records_command(document_path: Path, as_json: bool) -> None:
    """Show what was put right, set by hand or made in a skeleton DOCUMENT: what, why, by whom, when, on what evidence.

    Records are kept by every command and operator that sets something aside by hand, and none is ever taken out.
    """
    from .recording import run_records

    run_records(make_terminal(as_json), document_path)


@click.command("correct")
@document_argument
@click.option(
    "--element",
    "elements",
    multiple=True,
    metavar="NAME",
    help="That the audit finds wrong; given twice: two that are exchanged.",
)
@click.option(
    "--way",
    default="",
    metavar="WAY",
    help='Where the audit finds none wrong: the way that you know to be right, in its words, e.g. "upside down".',
)
@click.option("--put-back", "putting_back", is_flag=True, help="Take the last correction back; its record stays.")
@click.option("--reason", default="", help="Why: it stands in the record.")
@by_option
@cache_option
@json_option
def correct_command(
    document_path: Path,
    elements: tuple[str, ...],
    way: str,
    putting_back: bool,
    reason: str,
    by: str,
    cache: str,
    as_json: bool,
) -> None:
    """Put right what the audit finds wrong in a skeleton DOCUMENT: an element turned in its place, or two exchanged.

    The audit is run anew. Joints, limits and ground contacts of what is put right are found anew, saved angles stay,
    and how all stood before the first correction is kept as a pose. The record tells the audit's figures.

    With --way what the audit cannot tell, or finds as placed, is decided by you: it puts the elements as that way has
    them, and the record says that you chose it. `counterpoise audit` lists the ways.
    """
    from .correcting import Order, run_correct

    run_correct(make_terminal(as_json), Order(document_path, elements, way, putting_back, reason, by, cache))
