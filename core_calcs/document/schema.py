"""The published JSON Schema (draft 2020-12) of the skeleton document, made from the values and their rules.

``python -m core_calcs.document.schema`` writes schema.json beside this file.
"""

from __future__ import annotations

import dataclasses
import inspect
import json
import re
import types
from pathlib import Path
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from .document import SCHEMA_VERSION, SkeletonDocument
from .reading import SCHEMA_NAME
from .rules import RULES, ArrayRule, ArraysRule, NumberRule, TextRule

SCHEMA_PATH = Path(__file__).parent / "schema.json"

_FIELD_LINE = re.compile(r"^(\w+(?:, \w+)*) : (.*(?:\n {4}.*)*)", re.MULTILINE)


def make_schema() -> dict[str, Any]:
    """The schema as a tree."""
    definitions: dict[str, Any] = {}
    top = _make_record(SkeletonDocument, definitions)
    head = {"schema": {"const": SCHEMA_NAME}, "version": {"const": SCHEMA_VERSION}}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Counterpoise skeleton document",
        "description": "SI units and radians, as the keys say. What a schema cannot say (rigid transforms, one tree, "
        "names that are unique) is checked when the document is read.",
        "type": "object",
        "properties": head | top["properties"],
        "required": [*head, *top["required"]],
        "additionalProperties": False,
        "$defs": dict(sorted(definitions.items())),
    }


def _make_record(cls: type[Any], definitions: dict[str, Any]) -> dict[str, Any]:
    kinds, told = get_type_hints(cls), _describe_fields(cls)
    properties = {}
    for field in dataclasses.fields(cls):
        made = _make_field(cls, field.name, kinds[field.name], definitions)
        properties[field.name] = made | ({"description": told[field.name]} if field.name in told else {})
    summary = (inspect.getdoc(cls) or "").split("\n\n")[0].replace("\n", " ")
    return {
        "description": summary,
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _describe_fields(cls: type[Any]) -> dict[str, str]:
    """What the docstring says of each field."""
    told = {}
    for names, text in _FIELD_LINE.findall(inspect.getdoc(cls) or ""):
        for name in names.split(", "):
            told[name] = " ".join(text.split())
    return told


def _make_field(cls: type[Any], name: str, kind: Any, definitions: dict[str, Any]) -> dict[str, Any]:
    rule = RULES.get((cls, name))
    if isinstance(rule, ArrayRule):
        return _make_optional(_make_array(rule.shape), rule.optional)
    if isinstance(rule, ArraysRule):
        return {"type": "object", "additionalProperties": _make_array(rule.each.shape)}
    made = _make_kind(kind, definitions)
    if isinstance(rule, TextRule):
        made["pattern"] = rule.pattern
    if isinstance(rule, NumberRule):
        bounds = {"minimum": rule.least, "exclusiveMinimum": rule.above, "maximum": rule.most}
        made.update({key: bound for key, bound in bounds.items() if bound is not None})
    return made


def _make_array(shape: tuple[int | None, ...]) -> dict[str, Any]:
    if not shape:
        return {"type": "number"}
    size = {"minItems": 1} if shape[0] is None else {"minItems": shape[0], "maxItems": shape[0]}
    return {"type": "array", "items": _make_array(shape[1:]), **size}


def _make_optional(made: dict[str, Any], optional: bool) -> dict[str, Any]:
    if not optional:
        return made
    if isinstance(made.get("type"), str):
        return made | {"type": [made["type"], "null"]}
    return {"anyOf": [made, {"type": "null"}]}


def _make_kind(kind: Any, definitions: dict[str, Any]) -> dict[str, Any]:
    plain = {str: "string", int: "integer", float: "number", bool: "boolean"}
    origin, inner = get_origin(kind), get_args(kind)
    if kind in plain:
        return {"type": plain[kind]}
    if origin is Literal:
        return {"enum": list(inner)}
    if origin in (Union, types.UnionType):
        (only,) = (k for k in inner if k is not type(None))
        return _make_optional(_make_kind(only, definitions), True)
    if origin is tuple and inner[-1] is Ellipsis:
        return {"type": "array", "items": _make_kind(inner[0], definitions)}
    if origin is tuple and len(set(inner)) == 1:
        size = len(inner)
        return {"type": "array", "items": _make_kind(inner[0], definitions), "minItems": size, "maxItems": size}
    if not dataclasses.is_dataclass(kind) or not isinstance(kind, type):
        raise TypeError(f"the document cannot hold {kind!r}: give it a rule in rules.py")
    if kind.__name__ not in definitions:
        definitions[kind.__name__] = {}
        definitions[kind.__name__] = _make_record(kind, definitions)
    return {"$ref": f"#/$defs/{kind.__name__}"}


def format_schema() -> str:
    """The schema as the text of schema.json."""
    return json.dumps(make_schema(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    SCHEMA_PATH.write_text(format_schema(), encoding="utf-8", newline="\n")
