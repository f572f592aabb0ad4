"""How a command ends when it fails: one plain line and an exit code; a traceback only for what nobody foresaw."""

from __future__ import annotations

import os
import sys
import traceback
from typing import Any

import click

from ..spatial.errors import Cancelled, CounterpoiseError

CHECK_FAILS = 8
UNEXPECTED = 70
INTERRUPTED = 130


class PlainGroup(click.Group):
    """A group of commands whose errors are plain lines on standard error."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands in the order of the work, not of the alphabet."""
        return list(self.commands)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; turn what it raises into an exit code."""
        try:
            return super().invoke(ctx)
        except CounterpoiseError as error:
            _tell(str(error))
            ctx.exit(error.exit_code)
        except (KeyboardInterrupt, Cancelled):
            _tell("interrupted; what was being written is not there.")
            ctx.exit(INTERRUPTED)
        except BrokenPipeError:
            # Whoever read our output has gone. Python would complain once more when it flushes at the end.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            ctx.exit(1)
        except (click.exceptions.Exit, click.ClickException, click.Abort):
            raise
        except Exception:  # noqa: BLE001 - the last net: told in full, with how to report it
            traceback.print_exc()
            _tell(
                "this should not have happened. Please report it with the lines above, the command, and, if you may, "
                "the files; nothing was half-written."
            )
            ctx.exit(UNEXPECTED)


def _tell(message: str) -> None:
    click.echo(f"counterpoise: {' '.join(message.split())}", err=True)
