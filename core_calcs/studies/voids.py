"""The voids of many castings, measured side by side."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from threading import Event

from ..mesh.solid import Void
from ..mesh.surface import Surface
from ..mesh.voids import measure_void
from ..spatial.errors import Cancelled
from ..spatial.progress import Progress, ignore_progress

MOST_AT_ONCE = 4
"""Threads: each holds one element's surface and some 100 MB beside it."""

_PATIENCE_S = 0.2


def measure_voids(
    castings: Iterable[tuple[str, Surface, float]], count: int, progress: Progress = ignore_progress
) -> dict[str, Void]:
    """The void behind a wall in each of some surfaces, by name.

    Surfaces are taken one by one as there is room for them; measuring is numpy's work, which threads share.

    Parameters
    ----------
    castings : name, surface in its own frame, wall [m]
    count : how many there are, for the progress, which is asked all the while and may raise Cancelled
    """
    found: dict[str, Void] = {}
    stop = Event()

    def go_on(_doing: str, _share: float) -> None:
        if stop.is_set():
            raise Cancelled

    with ThreadPoolExecutor(max_workers=min(os.cpu_count() or 1, MOST_AT_ONCE)) as pool:
        try:
            running: dict[Future[Void], str] = {}
            for name, surface, wall_m in castings:
                running[pool.submit(measure_void, surface, wall_m, go_on)] = name
                while len(running) > min(os.cpu_count() or 1, MOST_AT_ONCE):
                    found.update(_take_done(running, found, count, progress))
            while running:
                found.update(_take_done(running, found, count, progress))
        except BaseException:
            stop.set()
            raise
    return found


def _take_done(
    running: dict[Future[Void], str], found: dict[str, Void], count: int, progress: Progress
) -> Iterator[tuple[str, Void]]:
    """What has ended meanwhile."""
    progress(f"void of {next(iter(running.values()))}", len(found) / max(count, 1))
    for future in wait(running, timeout=_PATIENCE_S, return_when=FIRST_COMPLETED).done:
        yield running.pop(future), future.result()
