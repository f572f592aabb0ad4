"""The command line: survey, articulate, cast, assess, hand over."""

from .commands import main as main
from .part_commands import add_part_commands

add_part_commands(main)
