"""The text of a JSON tree: indented, rows of numbers side by side, every number so that it reads back exactly."""

from __future__ import annotations

import json
import textwrap
from typing import Any

ROW_WIDTH = 110
"""A row of plain values that is longer than this is broken: texts stand one a line, numbers as many as have room."""

_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False)


def lay_out(tree: Any) -> str:
    """The tree as text that ends with a newline.

    Raises
    ------
    ValueError : a number is not finite
    """
    return _lay_out_value(tree, "") + "\n"


def _lay_out_value(value: Any, indent: str) -> str:
    deeper = indent + "  "
    if isinstance(value, dict):
        lines = [f"{_lay_out_plain(str(key))}: {_lay_out_value(item, deeper)}" for key, item in value.items()]
        return _wrap(lines, "{", "}", indent)
    if isinstance(value, list | tuple):
        if not any(isinstance(item, dict | list | tuple) for item in value):
            row = f"[{', '.join(_lay_out_plain(item) for item in value)}]"
            if len(row) <= ROW_WIDTH:
                return row
            if not any(isinstance(item, str) for item in value):
                return _wrap(textwrap.wrap(row[1:-1], ROW_WIDTH - len(indent)), "[", "]", indent, "")
        return _wrap([_lay_out_value(item, deeper) for item in value], "[", "]", indent)
    return _lay_out_plain(value)


def _wrap(lines: list[str], opening: str, closing: str, indent: str, between: str = ",") -> str:
    if not lines:
        return opening + closing
    inner = f"{between}\n{indent}  ".join(lines)
    return f"{opening}\n{indent}  {inner}\n{indent}{closing}"


def _lay_out_plain(value: Any) -> str:
    return _ENCODER.encode(value)
