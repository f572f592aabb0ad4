"""The command line: survey, articulate, cast, assess, hand over."""

from .commands import main as main
from .part_commands import add_part_commands
from .placing_command import place_command

add_part_commands(main)
main.add_command(place_command)
