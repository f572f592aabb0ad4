"""Driving a long step as Blender's window would: begun, woken by its timer, stopped by Esc."""

from __future__ import annotations

import time
from types import SimpleNamespace
from typing import Any

import bpy


class Manager:
    """Stands in for the window manager, which has no window here; keeps what it was asked for."""

    def __init__(self) -> None:
        self.windows: list[object] = []
        self.timers: list[object] = []
        self.handlers: list[object] = []
        self.shown: list[int] = []

    def event_timer_add(self, seconds: float, window: object) -> object:
        assert seconds > 0
        assert window is not None
        self.timers.append(object())
        return self.timers[-1]

    def event_timer_remove(self, timer: object) -> None:
        self.timers.remove(timer)

    def modal_handler_add(self, operator: object) -> None:
        self.handlers.append(operator)

    def progress_begin(self, _low: float, _high: float) -> None: ...

    def progress_update(self, percent: int) -> None:
        self.shown.append(percent)

    def progress_end(self) -> None: ...


class Workspace:
    """Stands in for the workspace: keeps what was written into the status bar."""

    def __init__(self, texts: list[str | None]) -> None:
        self.status_text_set = texts.append


class Context(SimpleNamespace):
    """Blender's context but for what has no window here."""

    def __getattr__(self, name: str) -> Any:
        return getattr(bpy.context, name)


class Drive:
    """A long step of the add-on with its properties, driven event by event."""

    def __init__(self, part: Any, operator: type, **given: object) -> None:
        names = ("bl_label", "prepare", "finish", "writes_files", "find_places", "digest")
        own = {name: getattr(operator, name) for name in names if hasattr(operator, name)}
        self.reports: list[tuple[set[str], str]] = []
        own["report"] = lambda _self, kind, text: self.reports.append((kind, text))
        self.step = type("Driven", (part("operators.long_step").LongStep,), own | given)()
        self.texts: list[str | None] = []
        self.context = Context(window=object(), screen=None, window_manager=Manager(), workspace=Workspace(self.texts))

    def begin(self) -> set[str]:
        return self.step.begin(self.context)

    def send(self, kind: str, value: str = "NOTHING") -> set[str]:
        return self.step.modal(self.context, SimpleNamespace(type=kind, value=value))

    def wait(self, seconds: float = 60) -> set[str]:
        """Wake it by its timer until it ends."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            done = self.send("TIMER")
            if done != {"PASS_THROUGH"}:
                return done
            time.sleep(0.01)
        raise TimeoutError("the step did not end")
