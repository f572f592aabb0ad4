"""Words that Blender does not look up by itself: what is reported, what is composed, what is wrapped over lines."""

from __future__ import annotations

import bpy


def say(template: str, **values: object) -> str:
    """A template in the interface's language with its values put in: `say("{joint} is fixed", joint=name)`.

    The template is one whole literal: the catalogues hold it as it stands, and a language may order its values anew.
    """
    return look_up(template).format(**values)


def look_up(text: str) -> str:
    """A text in the interface's language; as it is where the catalogue does not know it, a figure or a name for one."""
    return str(bpy.app.translations.pgettext_iface(text)) if text else ""


def look_up_label(label: str) -> str:
    """An operator's label, which Blender keeps in a context of its own."""
    return str(bpy.app.translations.pgettext_iface(label, "Operator"))
