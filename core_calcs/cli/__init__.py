"""The command line: survey, articulate, cast, assess, hand over."""

from .commands import main as main
