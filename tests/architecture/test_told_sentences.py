"""What the core says is found again by its sentences, and told in Spanish: words, values, and several sentences."""

from __future__ import annotations

import pytest

from tests.core_sentences import collect_sentences
from tests.translated_words import ADDON, CORE, load_catalogues, load_part

sentences = load_part("sentences")
SPANISH = load_catalogues().read_catalogue(ADDON / "translations" / "es.po")
TEMPLATES = sentences.read_sentences(text for context, text in SPANISH if context == CORE)

TOLD = {
    "not known": "no se sabe",
    "joint of V3": "articulación de V3",
    "a wall of 80 mm": "una pared de 80 mm",
    "thinner than two walls of 80 mm everywhere, so that no void is left": (
        "más delgado que dos paredes de 80 mm en todas partes, de modo que no queda vacío"
    ),
    "V1, V2 and 3 more": "V1, V2 y 3 más",
    "limits of V1, V2 and 3 more": "límites de V1, V2 y 3 más",
    "limits of skull": "límites de skull",
    "it would take anchors of 1.20 kN at foot_left, or 300 kg of ballast at foot_right": (
        "harían falta anclajes de 1.20 kN en foot_left, o 300 kg de lastre en foot_right"
    ),
    "wind, over foot_left – foot_right": "viento, sobre foot_left – foot_right",
    "No joint is outside": "Ninguna articulación está fuera",
    "2 vertebrae are missing between them: fixed as scanned": "faltan 2 vértebras entre ellas: fija como se escaneó",
    "centrum and both zygapophyses face each other; in doubt: nothing pins it down": (
        "centro vertebral y ambas apófisis articulares se miran; en duda: nada lo fija"
    ),
    "turned end for end": "girado de un extremo al otro",
    "a name that nobody has": "a name that nobody has",
}


def look_up(text: str) -> str | None:
    return SPANISH.get((CORE, text)) or SPANISH.get(("*", text))


@pytest.mark.parametrize("text", TOLD)
def test_a_text_of_the_core_is_told_in_spanish(text: str) -> None:
    assert sentences.translate(text, look_up, TEMPLATES) == TOLD[text]


def test_every_sentence_is_found_again_with_other_values() -> None:
    """A template is recognised when it is filled, and its values come through as they are."""
    for template, place in collect_sentences():
        names = [letter for letter in "abcdefghijklmnop" if f"{{{letter}}}" in template]
        if not names or template not in [own.template for own in TEMPLATES]:
            continue
        values = {name: f"Q{i}" for i, name in enumerate(names)}
        told = sentences.translate(template.format(**values), look_up, TEMPLATES)
        assert told == SPANISH[CORE, template].format(**values), (place, template)


def test_nothing_is_told_without_a_catalogue() -> None:
    assert sentences.translate("limits of V1", lambda _text: None, TEMPLATES) == "limits of V1"
