"""File names from the names of poses and elements."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core_calcs.handover.names import safe_file_names


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Femur L", "Femur_L"),
        ("../evil", "evil"),
        ("..\\..\\evil", "evil"),
        ("/etc/passwd", "etc_passwd"),
        ("C:\\temp", "C_temp"),
        ("con", "_con"),
        ("NUL.txt", "_NUL.txt"),
        ("COM¹", "_COM1"),
        ("", "unnamed"),
        (" . ", "unnamed"),
        ("Hüfte", "Hüfte"),
        ("椎骨 3", "椎骨_3"),
        ("a\nb\0c", "a_b_c"),
        ("trailing. ", "trailing"),
    ],
)
def test_single_names(name: str, expected: str) -> None:
    assert safe_file_names([name]) == {name: expected}


def test_names_that_clash_where_case_is_ignored() -> None:
    chosen = safe_file_names(["C3", "c3", "C 3", "C_3", "Straße", "STRASSE"], suffix="_mm.stl")
    assert len({name.casefold() for name in chosen.values()}) == 6
    assert chosen["C3"] == "C3_mm.stl"


def test_accents_joined_and_split_clash() -> None:
    joined, split = "\u00e9", "e\u0301"
    chosen = safe_file_names([joined, split])
    assert chosen[joined] != chosen[split]
    assert len(set(chosen.values())) == 2


def test_taken_names_are_left_alone() -> None:
    assert safe_file_names(["manifest.json", "readme.TXT"], ["manifest.json", "README.txt"]) == {
        "manifest.json": "manifest.json_2",
        "readme.TXT": "readme.TXT_2",
    }


def test_long_names_stay_short_and_apart() -> None:
    chosen = safe_file_names(["椎" * 300, "椎" * 301])
    assert len(set(chosen.values())) == 2
    assert all(len(name.encode()) <= 90 for name in chosen.values())


@given(st.lists(st.text(max_size=40), unique=True, max_size=12))
def test_any_names(names: list[str]) -> None:
    chosen = safe_file_names(names, suffix="_mm.stl")
    assert list(chosen) == names
    assert len({name.casefold() for name in chosen.values()}) == len(names)
    for name in chosen.values():
        assert not set(name) & set('<>:"/\\|?*')
        assert name.isprintable()
        assert name.strip(". ") == name
