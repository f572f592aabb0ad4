"""``python -m core_calcs``: the command line."""

from .cli import main

main(prog_name="counterpoise")
