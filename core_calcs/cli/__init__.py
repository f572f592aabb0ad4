"""The command line: survey, articulate, assess, hand over."""

from .commands import main as main
