"""The add-on's words in other languages: a catalogue (gettext, .po) for each, handed to Blender, which looks them up.

Blender by itself translates labels, tips, names and items; what is composed goes through `phrases.say`.
"""

from __future__ import annotations

import bpy

from .catalogues import CORE, read_catalogues
from .phrases import learn_sentences

NAME = __package__
"""What the catalogues are registered under."""


def register() -> None:
    catalogues, faults = read_catalogues()
    for fault in faults:
        print(f"Counterpoise: {fault}. That language is left out.")
    bpy.app.translations.register(NAME, catalogues)
    learn_sentences(catalogues, (text for own in catalogues.values() for context, text in own if context == CORE))


def unregister() -> None:
    bpy.app.translations.unregister(NAME)
