"""Long work in a thread beside Blender, one at a time, its windows staying alive; the thread leaves Blender alone."""

from __future__ import annotations

import threading
from collections.abc import Callable

from bpy.app.handlers import persistent

from ..core_calcs.spatial.errors import Cancelled
from ..core_calcs.spatial.progress import Progress
from .own_handlers import leave_alone, listen_for

Calculation = Callable[[Progress], object]
"""Plain values inside it, plain values out of it; it tells its progress often and lets `Cancelled` pass."""

PATIENCE_S = 30.0
"""How long Blender waits, when it ends or loads another file, for the work to stop and clear up behind itself."""


class LongWork:
    """A calculation in its thread.

    name : as the user knows it
    doing, share : how far it is; share from 0 to 1
    """

    def __init__(self, name: str, calculate: Calculation) -> None:
        self.name, self.doing, self.share = name, "beginning", 0.0
        self.stopped = False
        self._calculate = calculate
        self._result: object = None
        self._error: BaseException | None = None
        self._thread = threading.Thread(target=self._run, name=f"Counterpoise: {name}", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        try:
            self._result = self._calculate(self._note)
        except BaseException as error:  # noqa: BLE001  raised again where the result is taken
            self._error = error

    def _note(self, doing: str, share: float) -> None:
        if self.stopped:
            raise Cancelled
        self.doing, self.share = doing, share

    def stop(self) -> None:
        """Ask it to end at its next sign of progress."""
        self.stopped = True

    def is_over(self) -> bool:
        """Whether the thread has ended."""
        return not self._thread.is_alive()

    def wait(self, seconds: float) -> None:
        """Wait for the thread to end, no longer than that."""
        self._thread.join(seconds)

    def take(self) -> object:
        """The result; raises what the calculation raised, Cancelled where it was stopped."""
        if self._error is not None:
            raise self._error
        return self._result


_running: LongWork | None = None


def running_work() -> LongWork | None:
    """The work that is going on."""
    return _running


def start_work(name: str, calculate: Calculation) -> LongWork:
    """Begin; only where nothing else is running."""
    global _running
    if _running is not None:
        raise RuntimeError(f"{_running.name} is running")
    _running = LongWork(name, calculate)
    return _running


def end_work() -> None:
    """Forget the work that has ended."""
    global _running
    _running = None


@persistent
def stop_work(*_: object) -> None:
    """Stop what is running and wait for it: before another file is loaded, and when the add-on or Blender ends."""
    if _running is not None:
        _running.stop()
        _running.wait(PATIENCE_S)
        end_work()


_HANDLERS = (("load_pre", stop_work),)


def register() -> None:
    listen_for(_HANDLERS)


def unregister() -> None:
    leave_alone(_HANDLERS)
    stop_work()
