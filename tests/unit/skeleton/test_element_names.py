"""What names of elements have in common."""

from __future__ import annotations

import pytest

from core_calcs.skeleton.element_names import name_kind, name_partner


@pytest.mark.parametrize(
    ("name", "partner"),
    [
        ("Femur.L", "Femur.R"),
        ("Femur_2.R", "Femur_2.L"),
        ("femur left", "femur right"),
        ("LEFT-FEMUR", "RIGHT-FEMUR"),
        ("Rib 3 Dextra", "Rib 3 Sinistra"),
        ("costa_sin_4", "costa_dex_4"),
        ("Rippe 4 links", "Rippe 4 rechts"),
        ("Fémur derecho", "Fémur izquierdo"),
        ("costilla 4 izq", "costilla 4 der"),
        ("Skull", "Skull"),
        ("L", "L"),
        ("L_4", "L_4"),
        ("Lunate", "Lunate"),
    ],
)
def test_partners(name: str, partner: str) -> None:
    assert name_partner(name) == partner


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("Rib_3.L", "rib"),
        ("hand phalanx 2-1 left", "hand phalanx"),
        ("Ca9", "ca"),
        ("L4", "l"),
        ("12", "12"),
        ("Atlas", "atlas"),
    ],
)
def test_kinds(name: str, kind: str) -> None:
    assert name_kind(name) == kind
