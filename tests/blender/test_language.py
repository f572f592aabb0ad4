"""When the interface's language is changed, what was composed in the one before is composed anew."""

from __future__ import annotations

from collections.abc import Callable

import bpy
import pytest
from scenes import PACKAGE, Scene

Part = Callable[[str], object]


class Bus:
    """Blender's message bus as far as it is asked for: what is subscribed, by owner. Without a window it is mute."""

    def __init__(self) -> None:
        self.kept: list[tuple[object, tuple[object, str], Callable[[], None]]] = []

    def subscribe_rna(self, *, key, owner, args, notify, options=frozenset()) -> None:
        self.kept.append((owner, key, notify))

    def followed(self) -> list[tuple[object, str]]:
        """What is followed of the preferences; Blender's own add-ons follow other things."""
        return [key for _, key, _ in self.kept if key[0] is bpy.types.PreferencesView]

    def clear_by_owner(self, owner: object) -> None:
        self.kept = [own for own in self.kept if own[0] is not owner]


@pytest.fixture
def bus(monkeypatch: pytest.MonkeyPatch) -> Bus:
    own = Bus()
    for name in ("subscribe_rna", "clear_by_owner"):
        monkeypatch.setattr(bpy.msgbus, name, getattr(own, name))
    return own


def test_the_language_is_followed_once_from_file_to_file_until_the_add_on_is_off(
    animal_scene: Scene, part: Part, bus: Bus
) -> None:
    wanted = [(bpy.types.PreferencesView, name) for name in ("language", "use_translate_interface")]
    for _ in range(2):
        bpy.ops.wm.open_mainfile(filepath=bpy.data.filepath)
        assert bus.followed() == wanted
    bus.kept.clear()  # as Blender does when it loads
    bpy.ops.wm.read_homefile(use_empty=True)
    assert bus.followed() == wanted
    bpy.ops.preferences.addon_disable(module=PACKAGE)
    assert bus.followed() == []
    bpy.ops.preferences.addon_enable(module=PACKAGE)
    assert bus.followed() == wanted
    for name in ("language", "use_translate_interface"):
        assert name in bpy.types.PreferencesView.bl_rna.properties


def test_when_it_changes_figures_are_to_be_computed_anew(
    animal_scene: Scene, part: Part, bus: Bus, monkeypatch: pytest.MonkeyPatch
) -> None:
    handlers, figures = part("bridge.handlers"), part("bridge.figures")
    handlers.refresh_scene(bpy.context)
    assert handlers._mirrored
    woken = []
    monkeypatch.setattr(handlers, "wake_timer", lambda: woken.append(True))
    handlers.note_language()
    assert woken
    assert not handlers._mirrored, "rows that name what is not given, in words"
    before = figures.drawn_live(bpy.context.scene)[1]
    monkeypatch.setattr(figures, "name_language", lambda: "es")
    assert handlers.refresh_scene(bpy.context)
    assert figures.drawn_live(bpy.context.scene)[1] is not before


def test_what_is_not_to_be_translated_is_english(part: Part) -> None:
    phrases, view = part("translations.phrases"), bpy.context.preferences.view
    assert view.use_translate_interface
    assert phrases.name_language() == bpy.app.translations.locale
    view.use_translate_interface = False
    try:
        assert phrases.name_language() == "en_US"
    finally:
        view.use_translate_interface = True
