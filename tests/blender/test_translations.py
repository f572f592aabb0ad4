"""The add-on's words in Spanish, in Blender: what Blender shows of its classes is in the catalogue, and is looked up.

Blender's Python module is built without languages; what needs one runs where Blender has them, as in `make gui`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from types import ModuleType

import bpy
import pytest
from scenes import PACKAGE

FROM_TABLES = {"alloy", "bone", "material", "section"}
"""Properties whose items are the core's materials and sections, under their own names."""

BLENDERS_NAME = bpy.types.PropertyGroup.bl_rna.properties["name"].description
"""Of the name that Blender gives every group itself."""

Part = Callable[[str], ModuleType]


def list_own_classes() -> list[type]:
    """Every operator, group of settings and panel of the add-on that is registered."""
    bases = (bpy.types.Operator, bpy.types.PropertyGroup, bpy.types.Panel, bpy.types.Menu)
    return [own for base in bases for own in base.__subclasses__() if own.__module__.startswith(PACKAGE)]


def list_shown(own: type) -> Iterator[tuple[str, str]]:
    """Context and text of what Blender shows of a class: label, tip, and names, tips and items of its properties."""
    if hasattr(own, "bl_label"):
        yield ("Operator" if issubclass(own, bpy.types.Operator) else "*"), own.bl_label
    for rna in list_properties(own):
        if rna.name != rna.identifier:
            yield rna.translation_context, rna.name
        if rna.description != BLENDERS_NAME:
            yield "*", rna.description
        if rna.type == "ENUM" and rna.identifier not in FROM_TABLES:
            for item in rna.enum_items_static:
                yield rna.translation_context, item.name
                yield "*", item.description


def list_properties(own: type) -> list[bpy.types.Property]:
    """The properties that the add-on gave a class; of an operator its type in Blender has them."""
    if issubclass(own, bpy.types.Operator):
        properties = getattr(bpy.ops.counterpoise, own.bl_idname.partition(".")[2]).get_rna_type().properties
        return [rna for rna in properties if rna.identifier != "rna_type"]
    declared = getattr(own, "__annotations__", {})
    return [rna for rna in own.bl_rna.properties if rna.identifier in declared]


def test_what_blender_shows_is_in_the_catalogue(part: Part) -> None:
    catalogues, faults = part("translations.catalogues").read_catalogues()
    assert faults == []
    classes = list_own_classes()
    assert len(classes) > 80
    shown = {key for own in classes for key in list_shown(own) if any(letter.isalpha() for letter in key[1])}
    assert len(shown) > 400
    assert sorted(shown - set(catalogues["es"])) == []


def test_words_stay_english_in_english(part: Part) -> None:
    say = part("translations.phrases").say
    assert (
        say("{step} was stopped. Nothing was changed.", step="Assembly") == "Assembly was stopped. Nothing was changed."
    )


@pytest.fixture
def spanish() -> Iterator[None]:
    """Blender in Spanish, and as it was afterwards."""
    if not bpy.app.build_options.international:
        pytest.skip("this Blender is built without languages")
    view = bpy.context.preferences.view
    before = view.language
    view.language = "es"
    view.use_translate_interface = view.use_translate_tooltips = view.use_translate_reports = True
    yield
    view.language = before


def test_spanish_is_shown_and_gone_with_the_add_on(spanish: None, part: Part) -> None:
    look_up = bpy.app.translations.pgettext_iface
    label, tip = "Assemble Loose Elements", "How far end plates are to be apart; a disc that was set wins"
    assert look_up(label, "Operator") == "Ensamblar elementos sueltos"
    assert bpy.app.translations.pgettext_tip(tip).startswith("A qué distancia quedan los platillos")
    told = part("translations.phrases").say("{step} was stopped. Nothing was changed.", step="X")
    assert told == "X: detenido. No se cambió nada."
    bpy.ops.preferences.addon_disable(module=PACKAGE)
    assert look_up(label, "Operator") == label
    bpy.ops.preferences.addon_enable(module=PACKAGE)
    assert look_up(label, "Operator") == "Ensamblar elementos sueltos"
