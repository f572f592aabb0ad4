"""Between the values and the tree of plain dictionaries, lists, texts and numbers that JSON can hold.

Strict both ways: nothing is converted silently, unknown and missing keys are refused, numbers are finite.
"""

from __future__ import annotations

import dataclasses
import math
import operator
import re
from collections.abc import Callable, Iterator
from typing import Any, Literal, TypeVar, get_args, get_origin, get_type_hints

import numpy as np
from cattrs import BaseValidationError, Converter
from cattrs.errors import AttributeValidationNote, IterableValidationError, IterableValidationNote
from cattrs.gen import make_dict_structure_fn, make_dict_unstructure_fn, override

from ..spatial.transforms import Array, is_rigid
from .document import SkeletonDocument
from .rules import RULES, ArrayRule, ArraysRule, NumberRule, Rule, TextRule

Hook = Callable[[Any, Any], Any]
Record = TypeVar("Record")


class TreeError(ValueError):
    """The first thing in a tree that does not fit, with its JSON path."""

    def __init__(self, path: str, what: str, others: int) -> None:
        self.path, self.what, self.others = path, what, others
        super().__init__(f"{path}: {what}")


def structure_document(tree: Any) -> SkeletonDocument:
    """The value of a tree without its `schema` and `version`; TreeError where it does not fit."""
    return structure_value(tree, SkeletonDocument)


def unstructure_document(document: SkeletonDocument) -> dict[str, Any]:
    """The tree of a value, without `schema` and `version`; keys in the order of the fields."""
    return unstructure_value(document)


def structure_value(tree: Any, kind: type[Record]) -> Record:
    """A record of that type from its tree: of numbers every bit; TreeError where it does not fit."""
    try:
        return _CONVERTER.structure(tree, kind)
    except (BaseValidationError, ValueError) as error:
        found = list(_walk_errors(error, "$"))
        raise TreeError(*found[0], len(found) - 1) from error


def unstructure_value(record: Any) -> dict[str, Any]:
    """The tree of a record of dataclasses; keys in the order of the fields."""
    tree: dict[str, Any] = _CONVERTER.unstructure(record)
    return tree


def _walk_errors(error: BaseException, path: str) -> Iterator[tuple[str, str]]:
    if not isinstance(error, BaseValidationError):
        yield path, str(error)
        return
    for inner in error.exceptions:
        step = ""
        for note in getattr(inner, "__notes__", ()):
            if isinstance(note, AttributeValidationNote):
                step = f".{note.name}"
            elif isinstance(note, IterableValidationNote):
                step = f"[{note.index!r}]"
        yield from _walk_errors(inner, path + step)


def _describe(value: Any) -> str:
    kinds = {dict: "an object", list: "a list", str: "a text", bool: "true or false", type(None): "null"}
    return kinds.get(type(value), f"the number {value!r:.40}")


def _structure_float(value: Any, _type: Any = float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"a number is expected here, not {_describe(value)}")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ValueError("the number is not finite")
    return number


def _structure_int(value: Any, _type: Any = int) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError(f"a whole number is expected here, not {_describe(value)}")
    return value


def _structure_bool(value: Any, _type: Any = bool) -> bool:
    if not isinstance(value, bool):
        raise ValueError(f"true or false is expected here, not {_describe(value)}")
    return value


def _structure_text(value: Any, _type: Any = str) -> str:
    if not isinstance(value, str):
        raise ValueError(f"a text is expected here, not {_describe(value)}")
    if any("\ud800" <= letter <= "\udfff" for letter in value):
        raise ValueError("the text holds half of a character (a lone surrogate)")
    return value


def _make_literal_hook(cls: Any) -> Hook:
    choices = get_args(cls)

    def structure_literal(value: Any, _type: Any) -> Any:
        if not isinstance(value, str) or value not in choices:
            raise ValueError(f"{value!r:.60} is none of: {', '.join(choices)}")
        return value

    return structure_literal


def _make_tuple_hook(cls: Any, converter: Converter) -> Hook:
    kinds = get_args(cls)
    endless = kinds[-1] is Ellipsis

    def structure_tuple(value: Any, _type: Any) -> tuple[Any, ...]:
        if not isinstance(value, list):
            raise ValueError(f"a list is expected here, not {_describe(value)}")
        if not endless and len(value) != len(kinds):
            raise ValueError(f"a list of {len(kinds)} is expected here, not of {len(value)}")
        made, errors = [], []
        for i, item in enumerate(value):
            kind = kinds[0] if endless else kinds[i]
            try:
                made.append(converter.structure(item, kind))
            except (BaseValidationError, ValueError) as error:
                error.add_note(IterableValidationNote("", i, kind))
                errors.append(error)
        if errors:
            raise IterableValidationError("a list", errors, cls)
        return tuple(made)

    return structure_tuple


def _structure_rows(value: Any, shape: tuple[int | None, ...]) -> Any:
    if not shape:
        return _structure_float(value)
    if not isinstance(value, list):
        raise ValueError(f"a list is expected here, not {_describe(value)}")
    if shape[0] is None and not value:
        raise ValueError("the list is empty")
    if shape[0] is not None and len(value) != shape[0]:
        raise ValueError(f"a list of {shape[0]} is expected here, not of {len(value)}")
    rows = []
    for i, row in enumerate(value):
        try:
            rows.append(_structure_rows(row, shape[1:]))
        except (BaseValidationError, ValueError) as error:
            error.add_note(IterableValidationNote("", i, list))
            raise IterableValidationError("a list", [error], list) from error
    return rows


def _make_array_hook(rule: ArrayRule) -> Hook:
    def structure_array(value: Any, _type: Any) -> Array | None:
        if value is None and rule.optional:
            return None
        array = np.array(_structure_rows(value, rule.shape), dtype=np.float64)
        if rule.rigid and not is_rigid(array):
            raise ValueError("not a rigid transform: its axes are not right-handed, at right angles and of length 1")
        return array

    return structure_array


def _make_arrays_hook(rule: ArraysRule) -> Hook:
    structure_one = _make_array_hook(rule.each)

    def structure_arrays(value: Any, _type: Any) -> dict[str, Array]:
        if not isinstance(value, dict):
            raise ValueError(f"an object of {rule.meaning} is expected here, not {_describe(value)}")
        arrays, errors = {}, []
        for name, row in value.items():
            try:
                arrays[_structure_text(name)] = structure_one(row, None)
            except (BaseValidationError, ValueError) as error:
                error.add_note(IterableValidationNote("", name, list))
                errors.append(error)
        if errors:
            raise IterableValidationError(rule.meaning, errors, dict)
        return arrays

    return structure_arrays


def _make_text_hook(rule: TextRule) -> Hook:
    def structure_text(value: Any, _type: Any) -> str:
        text = _structure_text(value)
        if re.fullmatch(rule.pattern, text) is None:
            raise ValueError(f"{text!r:.80} is not {rule.meaning}")
        return text

    return structure_text


def _make_number_hook(rule: NumberRule, kind: Any) -> Hook:
    optional, whole = type(None) in get_args(kind), int in (kind, *get_args(kind))

    def structure_number(value: Any, _type: Any) -> float | None:
        if value is None and optional:
            return None
        number = _structure_int(value) if whole else _structure_float(value)
        if rule.least is not None and number < rule.least:
            raise ValueError(f"{number!r} is less than {rule.least}")
        if rule.above is not None and number <= rule.above:
            raise ValueError(f"{number!r} is not greater than {rule.above}")
        if rule.most is not None and number > rule.most:
            raise ValueError(f"{number!r} is more than {rule.most}")
        return number

    return structure_number


def _make_rule_hook(rule: Rule, kind: Any) -> Hook:
    if isinstance(rule, ArrayRule):
        return _make_array_hook(rule)
    if isinstance(rule, ArraysRule):
        return _make_arrays_hook(rule)
    return _make_text_hook(rule) if isinstance(rule, TextRule) else _make_number_hook(rule, kind)


def _make_record_hook(cls: Any, converter: Converter) -> Hook:
    kinds = get_type_hints(cls)
    names = [field.name for field in dataclasses.fields(cls)]
    hooks = {
        name: override(struct_hook=_make_rule_hook(RULES[cls, name], kinds[name]))
        for name in names
        if (cls, name) in RULES
    }
    inner = make_dict_structure_fn(cls, converter, _cattrs_detailed_validation=True, **hooks)  # type: ignore[arg-type]

    def structure_record(value: Any, _type: Any) -> Any:
        if not isinstance(value, dict):
            raise ValueError(f"an object is expected here, not {_describe(value)}")
        unknown = [key for key in value if key not in names]
        if unknown:
            raise ValueError(f"the key {unknown[0]!r:.60} is not known here")
        missing = [name for name in names if name not in value]
        if missing:
            raise ValueError(f"the key {missing[0]!r} is missing")
        return inner(value, cls)

    return structure_record


def _unstructure_array(value: Any) -> Any:
    return None if value is None else np.asarray(value, dtype=np.float64).tolist()


def _unstructure_arrays(arrays: Any) -> dict[str, Any]:
    return {name: _unstructure_array(array) for name, array in arrays.items()}


def _make_record_unhook(cls: Any, converter: Converter) -> Callable[[Any], Any]:
    unhooks: dict[str, Any] = {}
    for field in dataclasses.fields(cls):
        rule = RULES.get((cls, field.name))
        if isinstance(rule, ArrayRule):
            unhooks[field.name] = override(unstruct_hook=_unstructure_array)
        elif isinstance(rule, ArraysRule):
            unhooks[field.name] = override(unstruct_hook=_unstructure_arrays)
    return make_dict_unstructure_fn(cls, converter, **unhooks)


def _is_record(kind: Any) -> bool:
    return dataclasses.is_dataclass(kind)


def _is_tuple(kind: Any) -> bool:
    return get_origin(kind) is tuple


def _is_literal(kind: Any) -> bool:
    return get_origin(kind) is Literal


def _make_converter() -> Converter:
    converter = Converter(detailed_validation=True)
    converter.register_structure_hook_factory(_is_record, _make_record_hook)
    converter.register_structure_hook_factory(_is_tuple, _make_tuple_hook)
    converter.register_structure_hook_factory(_is_literal, _make_literal_hook)
    converter.register_structure_hook(float, _structure_float)
    converter.register_structure_hook(int, _structure_int)
    converter.register_structure_hook(bool, _structure_bool)
    converter.register_structure_hook(str, _structure_text)
    converter.register_unstructure_hook_factory(_is_record, _make_record_unhook)
    converter.register_unstructure_hook(float, float)
    converter.register_unstructure_hook(bool, bool)  # else it would be written as the whole number that it is, too
    converter.register_unstructure_hook(int, operator.index)
    return converter


_CONVERTER = _make_converter()
