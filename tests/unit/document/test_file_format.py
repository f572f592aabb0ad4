"""docs/file-format.md says what is so: its example reads, and it tells of every key."""

from __future__ import annotations

from pathlib import Path

import pytest

from core_calcs.document.reading import document_from_text, document_to_text
from core_calcs.document.schema import make_schema

PAGE = Path(__file__).parents[3] / "docs" / "file-format.md"


@pytest.fixture(scope="module")
def page() -> str:
    return PAGE.read_text(encoding="utf-8")


def test_the_example_is_a_document_as_it_is_written(page):
    example = page.split("```json\n")[1].split("```")[0]
    assert document_to_text(document_from_text(example, "the example")) == example


def test_every_key_is_told(page):
    told = page.split("## A whole document")[0]
    schema = make_schema()
    for record in (schema, *schema["$defs"].values()):
        for key in record["properties"]:
            if key in ("low", "high"):
                assert f"`{key}`" in told
            else:
                assert f"`{key}`" in told or f".{key}`" in told, key


def test_every_word_that_a_key_may_hold_is_told(page):
    told = page.split("## A whole document")[0]
    schema = make_schema()
    for name, record in schema["$defs"].items():
        for key, field in record["properties"].items():
            for word in field.get("enum", ()):
                assert word in told, f"{name}.{key}: {word}"
