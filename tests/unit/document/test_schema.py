"""The published schema: in step with the values, and as strict as the reader where a schema can be."""

from __future__ import annotations

import copy
import json
from typing import Any

import jsonschema
import pytest

from core_calcs.document.reading import document_from_text, document_to_text
from core_calcs.document.schema import SCHEMA_PATH, format_schema, make_schema
from core_calcs.spatial.errors import DocumentError


@pytest.fixture(scope="module")
def validator() -> jsonschema.Draft202012Validator:
    return jsonschema.Draft202012Validator(json.loads(SCHEMA_PATH.read_text(encoding="utf-8")))


def test_the_file_is_in_step_with_the_values():
    mend = (
        "a value changed: run python -m core_calcs.document.schema; where a key changed, think of version and migration"
    )
    assert SCHEMA_PATH.read_text(encoding="utf-8") == format_schema(), mend


def test_the_schema_is_sound():
    jsonschema.Draft202012Validator.check_schema(make_schema())


def test_every_record_refuses_unknown_and_missing_keys():
    schema = make_schema()
    for record in (schema, *schema["$defs"].values()):
        assert record["additionalProperties"] is False
        assert record["required"] == list(record["properties"])


def test_a_written_document_fits(document, validator):
    validator.validate(json.loads(document_to_text(document)))


def _places(tree: Any, path: tuple[Any, ...] = ()):
    yield path
    items = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    for key, item in items:
        yield from _places(item, (*path, key))


def _changed(tree: Any, path: tuple[Any, ...], value: Any) -> Any:
    tree = copy.deepcopy(tree)
    inner = tree
    for step in path[:-1]:
        inner = inner[step]
    if value is ...:
        del inner[path[-1]]
    else:
        inner[path[-1]] = value
    return tree


def _refusal(tree: Any) -> str:
    try:
        document_from_text(json.dumps(tree), "text")
    except DocumentError as error:
        return str(error)
    return ""


BEYOND_A_SCHEMA = (
    "rigid",
    "$.skeleton, ",
    "no element",
    "earlier pose",
    "SHA-256",
    "has no joint",
    "is fixed",
    "there is no foot",
    "no joint of",
    "needs a material",
    "$.site, ",
)


@pytest.mark.parametrize("value", [None, True, -1.5, "a\\b", [], ...])
def test_schema_and_reader_refuse_the_same(document, validator, value):
    """One wrong value at every kind of place; beyond the schema the reader refuses only what no schema can say."""
    tree = json.loads(document_to_text(document))
    for path in list(_places(tree))[1:]:
        if any(isinstance(step, int) and step > 0 for step in path):
            continue
        changed = _changed(tree, path, value)
        refusal = _refusal(changed)
        if not validator.is_valid(changed):
            assert refusal, f"{path} = {value!r}: refused by the schema, read by the reader"
        else:
            assert not refusal or any(word in refusal for word in BEYOND_A_SCHEMA), f"{path} = {value!r}: {refusal}"


WHAT_A_SCHEMA_CANNOT_SAY = {
    "rigid": lambda t: t["skeleton"]["elements"][0].update(
        X_WE=[[2, 0, 0, 0], [0, 2, 0, 0], [0, 0, 2, 0], [0, 0, 0, 1]]
    ),
    "tree": lambda t: t["skeleton"]["joints"].pop(),
    "pose": lambda t: t["poses"].append(t["poses"][0]),
    "idle foot": lambda t: t["poses"][0].update(idle_feet=["nose"]),
    "angles": lambda t: t["poses"][0].update(angles_rad={"no such joint": [0, 0, 0]}),
}


@pytest.mark.parametrize("fault", WHAT_A_SCHEMA_CANNOT_SAY)
def test_the_reader_is_stricter_only_where_a_schema_cannot_be(document, validator, fault):
    tree = json.loads(document_to_text(document))
    WHAT_A_SCHEMA_CANNOT_SAY[fault](tree)
    assert validator.is_valid(tree)
    assert _refusal(tree)
