"""Texts that are glued together where they are shown, so that no catalogue can hold them.

What is shown goes through one literal with named values (`say`), or is found again by its sentence (`tell`). An
f-string or a `+` is for figures, units, names and what is looked up already: a word in it would stay English.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ADDON = Path(__file__).parents[1] / "addon"

SHOWING = ("bridge", "draw", "operators", "panels")
"""Folders whose texts are shown."""

UNITS = re.compile(r"\b(mm|kN|kg|Pa|UTC|m|N|rad|s)\b|m²|m³|kg/m³")

ERRORS = re.compile(r"Error$")
"""What an error says is found again by its sentence."""

NOT_SHOWN = {
    *("bridge/survey_notes.py", "bridge/comparison.py"),  # written into text blocks, which stay English
    *("bridge/saving.py", "bridge/resting.py", "bridge/long_work.py"),  # told in the console
    *("bridge/rig.py", "bridge/thumbnails.py"),  # names inside Blender
}

NAMES_GIVEN = {
    *(
        "Pose {}",
        "{} copy",
        "Reference {}",
        "Frame of {}",
        "{} to {}",
        "{} skeleton.json",
        "text block {}",
        "Counterpoise: {}",
    ),
    *(
        "text block {}",
        "Counterpoise: {}",
        "{}.html",
        "NUMPAD_{}",
        "bpy.ops.counterpoise.{}",
        "panels/{}",
        "COUNTERPOISE_PT_{}",
    ),
}
"""Names of poses, objects, files and keys, which stay as they were given."""


def find_composed(addon: Path = ADDON) -> list[str]:
    """Where words are glued to what is shown: file, line and text."""
    found = []
    for path in sorted(addon.rglob("*.py")):
        place = path.relative_to(addon).as_posix()
        if place.partition("/")[0] in SHOWING and place not in NOT_SHOWN:
            tree = ast.parse(path.read_text(encoding="utf-8"))
            found += [f"{place}:{line}: {text}" for line, text in list_composed(tree)]
    return found


def list_composed(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Line and text of every f-string, sum and conditional plural that has words of its own."""
    passed = {id(part) for node in ast.walk(tree) for part in _list_passed(node)}
    for node in ast.walk(tree):
        if id(node) in passed:
            continue
        if isinstance(node, ast.JoinedStr):
            text = "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
            sides = (node.left, node.right)
            text = " ".join(
                side.value for side in sides if isinstance(side, ast.Constant) and isinstance(side.value, str)
            )
        else:
            continue
        if text not in NAMES_GIVEN and re.search(r"[^\W\d_]{2}", UNITS.sub("", text)):
            yield node.lineno, text


def _list_passed(node: ast.AST) -> Iterator[ast.AST]:
    """All that is given to an error or to progress, which is found again; parts of f-strings; their formats."""
    if isinstance(node, ast.Call):
        called = ast.unparse(node.func).rpartition(".")[2]
        if ERRORS.search(called) or called == "progress":
            for given in (*node.args, *(keyword.value for keyword in node.keywords)):
                yield from ast.walk(given)
    elif isinstance(node, ast.FormattedValue) and node.format_spec is not None:
        yield from ast.walk(node.format_spec)
    elif isinstance(node, ast.FunctionDef):
        yield from _list_error_parts(node)


def _list_error_parts(function: ast.FunctionDef) -> Iterator[ast.AST]:
    """What names stand for that are given to errors in the same function."""
    calls = [
        call for call in ast.walk(function) if isinstance(call, ast.Call) and ERRORS.search(ast.unparse(call.func))
    ]
    names = {given.id for call in calls for given in call.args if isinstance(given, ast.Name)}
    for line in ast.walk(function):
        if isinstance(line, ast.Assign) and isinstance(line.targets[0], ast.Name) and line.targets[0].id in names:
            yield from ast.walk(line.value)
