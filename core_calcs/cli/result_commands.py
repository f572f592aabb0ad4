"""The commands that tell figures and hand over, and their options."""

from __future__ import annotations

from pathlib import Path

import click

from .failures import CHECK_FAILS
from .options import NOT_NEGATIVE, PATH, document_argument, json_option, material_option, pose_option, wall_option
from .terminal import make_terminal


@click.command("assess")
@document_argument
@pose_option
@click.option("--strict", is_flag=True, help=f"End with code {CHECK_FAILS} if a check of any pose fails.")
@material_option
@wall_option
@click.option("--check-meshes", "with_meshes", is_flag=True, help="Compare every mesh file with its recorded SHA-256.")
@click.option("--clearance", "with_clearance", is_flag=True, help="Hold the elements' surfaces against each other.")
@click.option(
    "--clearance-share",
    type=NOT_NEGATIVE,
    help="Allowed then, in sizes of the smaller element; as the document says otherwise.",
)
@json_option
def assess_command(
    document_path: Path,
    pose_names: tuple[str, ...],
    strict: bool,
    material: str,
    wall_mm: float | None,
    with_meshes: bool,
    with_clearance: bool,
    clearance_share: float | None,
    as_json: bool,
) -> None:
    """Show the figures and checks of the poses of a skeleton DOCUMENT.

    With --material or --wall-mm as if all were cast so: the document is left as it is. With --clearance what runs into
    what is shown as well, which reads every mesh file and takes a minute or so for some hundred elements.
    """
    from .assessing import Trial, run_assess
    from .casting import make_casting, make_material

    casting = make_casting(None, wall_mm, None, 0.0)
    trial = Trial(make_material(material, None, None, ""), casting, with_clearance, clearance_share)
    sound = run_assess(make_terminal(as_json), document_path, pose_names, with_meshes, trial)
    if strict and not sound:
        click.get_current_context().exit(CHECK_FAILS)


@click.command("audit")
@document_argument
@click.option("--strict", is_flag=True, help=f"End with code {CHECK_FAILS} if an element is found wrong.")
@json_option
def audit_command(document_path: Path, strict: bool, as_json: bool) -> None:
    """Look for what was mounted the wrong way round in a skeleton DOCUMENT, or in another's place.

    Each vertebra is tried turned by half about three axes, seated afresh between its neighbours, and rated; bones of
    limbs and girdles are tried turned, mirrored and in each other's place. Where no way is clear it says so. The
    document is left as it is. It takes a second or two for a bone.
    """
    from .auditing import run_audit

    sound = run_audit(make_terminal(as_json), document_path)
    if strict and not sound:
        click.get_current_context().exit(CHECK_FAILS)


@click.command("handover")
@document_argument
@click.argument("folder", metavar="FOLDER", type=PATH)
@pose_option
@json_option
def handover_command(document_path: Path, folder: Path, pose_names: tuple[str, ...], as_json: bool) -> None:
    """Write posed meshes, tables and reports of a skeleton DOCUMENT into a FOLDER.

    The folder appears whole or not at all; one that holds anything but an untouched hand-over is left alone.
    """
    from .handing_over import run_handover

    run_handover(make_terminal(as_json), document_path, folder, pose_names)


@click.command("compare")
@document_argument
@click.option("--out", "page", required=True, metavar="FILE.html", type=PATH, help="The page that is written.")
@pose_option
@json_option
def compare_command(document_path: Path, page: Path, pose_names: tuple[str, ...], as_json: bool) -> None:
    """Write poses of a skeleton DOCUMENT beside each other on one page: pictures, notes, figures, bars.

    The page needs nothing beside itself, on screen or on paper. One that is there is replaced; any other file is left
    alone. Of elements whose mesh files are missing the pictures show nothing.
    """
    from .handing_over import run_compare

    run_compare(make_terminal(as_json), document_path, page, pose_names)


@click.command("ranges")
@document_argument
@click.option("--out", "folder", required=True, metavar="FOLDER", type=PATH, help="Where the report is written.")
@pose_option
@json_option
def ranges_command(document_path: Path, folder: Path, pose_names: tuple[str, ...], as_json: bool) -> None:
    """Write what the joints of a skeleton DOCUMENT allow, and how its poses use it, as a report to publish.

    A page to read and to print, tables, and a short text for the public. The folder appears whole or not at all; one
    that holds anything but an untouched range report is left alone.
    """
    from .handing_over import run_ranges

    run_ranges(make_terminal(as_json), document_path, folder, pose_names)
