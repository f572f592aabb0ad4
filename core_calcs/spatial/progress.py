"""How long work tells how far it is: one callback, which may raise `Cancelled`."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, float], None]
"""Called with what is being done and the share done, 0 to 1."""


def ignore_progress(_doing: str, _share: float) -> None:
    """Report nothing."""
