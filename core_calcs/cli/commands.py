"""The program: its commands in the order of the work. What one does is imported when it runs: help comes at once."""

from __future__ import annotations

import click

from .. import __version__
from .assembly_commands import assemble_command
from .bone_commands import add_bone_command, missing_command
from .casting_commands import cast_command, discs_command, steelwork_command
from .correction_commands import (
    contacts_command,
    correct_command,
    neutral_command,
    place_command,
    records_command,
)
from .failures import PlainGroup
from .result_commands import assess_command, audit_command, compare_command, handover_command, ranges_command
from .site_commands import actions_command, site_command
from .skeleton_commands import articulate_command, mark_command, search_command, survey_command


@click.group(cls=PlainGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="counterpoise")
def main() -> None:
    """From scanned elements to a posed skeleton's figures and a hand-over.

    \b
    Exit codes: 0 done; 2 wrong use; 3 mesh files; 4 element table; 5 skeleton
    document; 6 skeleton, pose or site; 7 cannot be written; 8 a check fails (assess or
    audit --strict); 1 anything else that can be mended; 70 not foreseen; 130 interrupted.
    """


for _command in (
    *(survey_command, articulate_command, search_command, mark_command, assemble_command),
    *(cast_command, discs_command, steelwork_command),
    *(audit_command, correct_command, missing_command, add_bone_command),
    *(neutral_command, contacts_command, place_command, records_command),
    *(site_command, actions_command),
    *(assess_command, compare_command, ranges_command, handover_command),
):
    main.add_command(_command)
