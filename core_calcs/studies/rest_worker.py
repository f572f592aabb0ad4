"""The Python beside that does the slow checks of poses: started, asked, listened to, ended, never waited for."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from queue import Empty, SimpleQueue
from threading import Thread

from .rest_checks import RestAnswer, RestOrder, receive, send

_CORE = Path(__file__).parents[1]
_START = (
    "import json, sys; sys.path[:] = json.loads(sys.argv[1]); "
    f"from {_CORE.name}.studies.rest_checks import serve; serve()"
)
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


class RestWorker:
    """A Python of its own; orders go to it, and answers come from it, by threads that wait in place of the caller."""

    def __init__(self) -> None:
        """Raises OSError where it cannot be started."""
        paths = [str(_CORE.parent), *(path for path in sys.path if path)]
        self._orders: SimpleQueue[RestOrder | None] = SimpleQueue()
        self._answers: SimpleQueue[RestAnswer] = SimpleQueue()
        self._process = subprocess.Popen(
            [sys.executable, "-I", "-c", _START, json.dumps(paths)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=os.environ | dict.fromkeys(_ONE_THREAD, "1"),
            start_new_session=True,  # Ctrl C is for the one who started it
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
        self._threads = [Thread(target=own, daemon=True) for own in (self._write, self._read)]
        for thread in self._threads:
            thread.start()

    def ask(self, order: RestOrder) -> None:
        """Have an order done, instead of any before it."""
        self._orders.put(order)

    def listen(self) -> list[RestAnswer]:
        """What it has answered since it was asked last."""
        found = []
        while True:
            try:
                found.append(self._answers.get_nowait())
            except Empty:
                return found

    def is_alive(self) -> bool:
        """Whether anything more can come from it."""
        return self._process.poll() is None

    def end(self) -> None:
        """End it at once, whatever it is doing."""
        self._process.kill()
        self._orders.put(None)
        for thread in self._threads:
            thread.join()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            try:
                if pipe is not None:
                    pipe.close()
            except OSError:  # what was not sent to one that is gone
                continue

    def _write(self) -> None:
        pipe = self._process.stdin
        assert pipe is not None
        try:
            while (order := self._orders.get()) is not None:
                send(order, pipe)
        except (OSError, ValueError):
            return

    def _read(self) -> None:
        pipe = self._process.stdout
        assert pipe is not None
        while isinstance(answer := receive(pipe), RestAnswer):
            self._answers.put(answer)


def can_start() -> bool:
    """Whether Python can be started anew: a program that holds it and found none beside names itself instead."""
    return Path(sys.executable or "").stem.lower().startswith("python")
