"""The tab's panels stay in the order of the work, whichever were shown first."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from pathlib import Path

import bpy
import pytest

op = bpy.ops.counterpoise

TOP = ("running", "begin", "scans", "skeleton", "pose", "castings", "figures", "handover", "overlays")
"""As they are registered, which is how Blender asks them."""


def shown() -> list[str]:
    """Names of the tab's panels that Blender would draw now."""
    panels = [(name, getattr(bpy.types, f"COUNTERPOISE_PT_{name}")) for name in TOP]
    return [name for name, panel in panels if not hasattr(panel, "poll") or panel.poll(bpy.context)]


def draw(order: list[str], drawn: list[str] | None = None) -> list[str]:
    """Blender's list of a region's panels after a draw; what it shows of it stands in that order.

    A panel that is new goes right behind the one drawn before it, the first one to the top; those that are not drawn
    move down (seen in Blender 4.3's window).
    """
    place = 0
    for name in shown() if drawn is None else drawn:
        if name not in order:
            order.insert(place, name)
        place = order.index(name) + 1
    return order


def open_demo() -> None:
    assert op.open_demo() == {"FINISHED"}


def remove() -> None:
    assert op.remove_skeleton() == {"FINISHED"}


def choose(tmp_path: Path) -> Callable[[], None]:
    def choose_scans() -> None:
        assert op.choose_scans(directory=str(tmp_path)) == {"FINISHED"}

    return choose_scans


@pytest.mark.parametrize("from_the_start", [True, False], ids=["tab open from the start", "tab opened on the demo"])
def test_no_panel_is_left_behind_by_the_demo(empty_scene: None, tmp_path: Path, from_the_start: bool) -> None:
    order: list[str] = draw([]) if from_the_start else []
    for step in (open_demo, remove, choose(tmp_path)):
        step()
        draw(order)
        assert [name for name in order if name in shown()] == [name for name in TOP if name in shown()]


def test_the_order_holds_whatever_was_shown_first(empty_scene: None, part, monkeypatch: pytest.MonkeyPatch) -> None:
    """The tab may be opened first with any of these, with a step running or not, and then come to any other."""
    states: dict[str, list[str]] = {}

    def look(name: str) -> None:
        for work in (None, object()):
            for panel in ("running", "begin"):
                monkeypatch.setattr(part(f"panels.{panel}"), "running_work", lambda work=work: work)
            states[f"{name}, running" if work else name] = shown()

    look("empty")
    open_demo()
    look("demo")
    remove()
    assert op.open_document(filepath=str(part("bridge.opened_demo").DOCUMENT)) == {"FINISHED"}
    look("document")
    remove()
    look("removed")
    assert states["demo"][0] == "begin"
    assert states["demo, running"][0] == "running"
    for way in product(states, repeat=4):
        order: list[str] = []
        for state in way:
            draw(order, states[state])
            seen = [name for name in order if name in states[state]]
            assert seen == [name for name in TOP if name in states[state]], way


def test_no_panel_is_left_behind_by_a_document(part, empty_scene: None) -> None:
    order = draw([])
    assert op.open_document(filepath=str(part("bridge.opened_demo").DOCUMENT)) == {"FINISHED"}
    draw(order)
    assert [name for name in order if name in shown()] == [name for name in TOP if name in shown()]
