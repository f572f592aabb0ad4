"""How long work tells how far it is: one callback, which may raise `Cancelled`."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, float], None]
"""Called with what is being done and the share done, 0 to 1."""


def ignore_progress(_doing: str, _share: float) -> None:
    """Report nothing."""


def part_of(progress: Progress, start: float, end: float) -> Progress:
    """The progress of one part of the work, from one share of the whole to another."""
    return lambda doing, share: progress(doing, start + (end - start) * share)
