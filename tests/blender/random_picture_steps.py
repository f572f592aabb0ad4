"""Random steps with reference pictures behind the view."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
from walk_model import done

if TYPE_CHECKING:
    from random_steps import Walk

MOST = 3
VIEWS = ["LEFT", "FRONT", "TOP"]

op = bpy.ops.counterpoise


def add_reference(walk: Walk) -> bool:
    known = walk.model.references
    if len(known) >= MOST:
        return False
    view = walk.pick(VIEWS)
    done(op.add_reference, filepath=str(draw_picture(walk)), view=view, opacity=0.5)
    (name,) = set(list_references(walk)) - set(known)
    known[name] = view
    return True


def remove_reference(walk: Walk) -> bool:
    known = walk.model.references
    if not known:
        return False
    name = walk.pick(list(known))
    del known[name]
    return done(op.remove_reference, name=name)


def draw_picture(walk: Walk) -> str:
    """A picture's file, drawn once."""
    path = walk.folder / "drawn.png"
    if not path.is_file():
        made = bpy.data.images.new("drawn", 40, 20)
        made.filepath_raw, made.file_format = str(path), "PNG"
        made.save()
        bpy.data.images.remove(made)
    return str(path)


def list_references(walk: Walk) -> dict[str, str]:
    """By name the view that each stands behind; each shows its picture."""
    of = walk.scene.part("bridge.reference_pictures")
    found = of.list_references(bpy.context.scene)
    for picture in found:
        assert tuple(picture.data.size) == (40, 20), picture.name
    return {picture.name: picture[of.REFERENCE] for picture in found}
