"""A document in the .blend that cannot be read: no panel says of what it holds that there is none."""

from __future__ import annotations

import bpy
from spanish_screens import draw_panel, list_panels

SAID = {
    "records": "None yet: what is set by hand from now on is recorded here.",
    "places": "All elements stand where they were scanned.",
    "parts": "None: the figures are of the castings alone.",
    "poses": "None yet: save the live pose (step 3).",
    "site": "Being read.",
}
"""What a panel says of a document that holds nothing of its kind, or that nobody has read yet."""


def show_panels(part) -> dict[str, str]:
    """The words of every panel, with all that is computed for it."""
    part("bridge.handlers").refresh_scene(bpy.context)
    return {own.bl_idname.removeprefix("COUNTERPOISE_PT_"): " ".join(draw_panel(own, {})) for own in list_panels()}


def test_what_is_in_it_is_not_known(animal_scene, part) -> None:
    sound = show_panels(part)
    assert [name for name in ("places", "parts") if SAID[name] not in sound[name]] == []
    text = bpy.context.scene.counterpoise.document
    whole = text.as_string()
    text.clear()
    text.write(whole[: len(whole) // 2])
    cut = show_panels(part)
    assert [name for name, said in SAID.items() if said in cut[name] or "Not known." not in cut[name]] == []
    text.clear()
    text.write(whole)
    assert show_panels(part) == sound
