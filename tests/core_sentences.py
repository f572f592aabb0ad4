"""What the core says to people, read from its sources: words, sentences, and sentences with {values} in them.

The core knows no catalogue: the add-on finds these sentences again in what the core says (`translations/sentences.py`).
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator
from pathlib import Path

CORE = Path(__file__).parents[1] / "core_calcs"

SPOKEN = ("articulation", "build", "inspection", "mesh", "posing", "site", "skeleton", "studies")
"""Packages whose texts are shown in Blender; of all others but the command line and the hand-over errors alone."""

SPOKEN_BY_HANDOVER = "handover/site_text.py"
"""What is said of footings is shown in both."""

ELSEWHERE = ("cli/", "handover/")
"""What these say is read on paper and in a terminal."""

LEFT_ENGLISH = (
    *("build/materials.py", "build/sections.py"),  # names, and sources as their makers write them
    *("skeleton/bone_names.py", "articulation/feet.py"),  # names of bones and feet
    *("document/structure.py", "document/schema.py", "document/rules.py"),  # what is wrong inside a damaged file
    *("mesh/made_files.py", "mesh/silhouettes.py", "posing/linkage.py", "studies/rest_worker.py"),  # faults of our own
)

WORDS = (
    *("holds", "close", "fails", "not known"),
    *("wrong", "undecided", "as placed", "turned", "mirrored", "exchanged", "put back"),
    *("found", "ambiguous", "none", "by hand", "fixed", "turns", "turning", "scaled", "joints", "thicker", "thinner"),
    *("flexion", "lateral", "axial"),
    *("bone contact", "facet overlap", "gap", "not searched farther", "held", "set by hand"),
    *("ball", "hinge", "saddle", "plane", "sphere", "cylinder", "neck", "trunk", "tail", "limb", "limbs"),
    *("solid", "hollow", "bone", "several", "weighed", "left", "right", "midline"),
    *("column", "root", "closed", "open", "empty", "unreadable", "duplicate", "missing", "changed"),
    *("dorsal", "ventral", "element", "joint", "pose", "wind", "self-weight", "person", "push", "pull", "centrum"),
    *("beginning", "mating", "fit", "fits", "factors", "Stands", "Equilibrium", "before: {a}"),
    *("left foot", "right foot", "fore left foot", "fore right foot", "hind left foot", "hind right foot"),
    *("fore foot", "hind foot"),  # the others are numbered, or called after an element
    *(" and ", " or ", ", or "),
)
"""Words that stand alone where they are shown."""

OURS = re.compile(r"(Counterpoise|MeshFile|Table|Document|Skeleton|Site|Output)Error$")
"""The errors that a user may meet."""

VALUES = "abcdefghijklmnop"

Literal = tuple[str, str]
"""A text and where it stands."""


def collect_sentences(core: Path = CORE) -> list[Literal]:
    """Every text of the core that is shown in Blender, once, with the file that has it first."""
    found: dict[str, Literal] = {word: (word, "core") for word in WORDS}
    for path in sorted(core.rglob("*.py")):
        place = path.relative_to(core).as_posix()
        if (place.startswith(ELSEWHERE) and place != SPOKEN_BY_HANDOVER) or place in LEFT_ENGLISH:
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        spoken = place.partition("/")[0] in SPOKEN or place == SPOKEN_BY_HANDOVER
        for text in (*list_texts(tree), *list_errors(tree)) if spoken else list_errors(tree):
            found.setdefault(text, (text, place))
    return list(found.values())


def list_texts(tree: ast.Module) -> Iterator[str]:
    """Texts of several words, docstrings left out."""
    passed = {id(part) for node in ast.walk(tree) for part in _passed_over(node)}
    for node in ast.walk(tree):
        if id(node) not in passed and (text := read_text(node)) is not None and is_sentence(text):
            yield text


def list_errors(tree: ast.Module) -> Iterator[str]:
    """What errors are given: literals, and literals that a name in the same function stands for."""
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef):
            continue
        named: dict[str, list[ast.expr]] = {}
        for line in ast.walk(function):
            if isinstance(line, ast.Assign) and isinstance(line.targets[0], ast.Name):
                named.setdefault(line.targets[0].id, []).append(line.value)
        for call in ast.walk(function):
            if isinstance(call, ast.Call) and OURS.search(ast.unparse(call.func)):
                for given in call.args:
                    for node in named.get(given.id, []) if isinstance(given, ast.Name) else [given]:
                        yield from (text for text in read_choices(node) if has_letters(text))


def read_choices(node: ast.expr) -> Iterator[str]:
    """A text, or those that a condition chooses between."""
    if isinstance(node, ast.IfExp):
        yield from read_choices(node.body)
        yield from read_choices(node.orelse)
    elif (text := read_text(node)) is not None:
        yield text


def read_text(node: ast.AST) -> str | None:
    """A literal, or an f-string as a template, its values called a, b, c in their order; None of anything else."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return trim(node.value.replace("{", "{{").replace("}", "}}"))
    if not isinstance(node, ast.JoinedStr):
        return None
    parts, names = [], iter(VALUES)
    for part in node.values:
        text = str(part.value).replace("{", "{{").replace("}", "}}") if isinstance(part, ast.Constant) else None
        parts.append(f"{{{next(names)}}}" if text is None else text)
    return trim("".join(parts))


def trim(text: str) -> str:
    """Without the signs that part it from what stands around it: there it is taken apart."""
    return text.strip(" ;,:")


def is_sentence(text: str) -> bool:
    """More than a word, and no name of something."""
    return " " in text.strip() and "\n" not in text and not text.startswith("import ") and has_letters(text)


def has_letters(text: str) -> bool:
    """Whether there is a word beside values and units; what `and` joins is taken apart anyway."""
    return bool(re.search(r"[^\W\d_]{2}", re.sub(r"\{.*?\}|\b(mm|kN|kg|and|or)\b", "", text)))


def _passed_over(node: ast.AST) -> Iterable[ast.AST]:
    """Docstrings and other texts that stand for themselves, parts of an f-string, keys of a table."""
    if isinstance(node, ast.Expr):
        yield node.value
    elif isinstance(node, ast.JoinedStr):
        for part in node.values:
            yield part
            if isinstance(part, ast.FormattedValue) and part.format_spec is not None:
                yield from ast.walk(part.format_spec)
