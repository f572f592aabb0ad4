"""What is looked up in the add-on's catalogues: every literal of its sources that is shown, and what the core says.

`python tests/translated_words.py` prints what the catalogues lack as entries to be pasted into them, and what they
hold that is no longer said anywhere.
"""

from __future__ import annotations

import ast
import importlib.util
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from string import Formatter
from types import ModuleType

sys.path.insert(0, str(Path(__file__).parents[1]))  # for the one who runs this file by itself

from tests.core_sentences import collect_sentences, list_errors, list_texts, read_text

ADDON = Path(__file__).parents[1] / "addon"
ANY, OPERATOR, CORE = "*", "Operator", "Counterpoise"
"""Contexts: Blender looks up an operator's label in one of its own; the third is of what the core says in English."""

KEPT_ENGLISH = ("bridge/strays.py",)
CONSOLE = ("translations/catalogues.py",)
"""Files of the add-on whose texts are kept as they are and told where they are shown, as those of the core are."""

SHOWN = ("text", "heading", "title", "message", "confirm_text")
"""Keywords of a layout's and a dialog's calls whose literals Blender translates."""

TOLD = ("name_lack", "work", "finish")
"""Methods of `Step` whose literals are looked up where they are shown."""

LOOKED_UP = {"say": 0, "look_up": 0, "tell": 0, "write_wrapped": 2}
"""Functions of the add-on that look a text up, and which of their arguments it is."""

SPOKEN_BY = {"progress": 0, "require_path": 1}
"""Functions that keep what they are given as it is, and which of their arguments that is."""

Literals = Iterator[tuple[str, ast.Constant]]


@dataclass(frozen=True)
class Word:
    """A literal: its context, itself, and where it stands."""

    context: str
    text: str
    place: str


def collect_words(addon: Path = ADDON) -> list[Word]:
    """Every literal of the sources that is looked up, in the order of files and lines; figures and signs left out."""
    words: list[Word] = []
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in sorted(addon.rglob("*.py"))}
    for path, tree in trees.items():
        for context, node in find_literals(tree):
            words.append(Word(context, node.value, f"{path.relative_to(addon).as_posix()}:{node.lineno}"))
    words = [word for word in words if any(letter.isalpha() for letter in word.text)]
    return [*words, *collect_told(trees, addon)]


def collect_all() -> list[Word]:
    """Every text that is looked up: of the add-on, and of the core, which the add-on tells."""
    return [*collect_words(), *(Word(CORE, text, place) for text, place in collect_sentences())]


def collect_told(trees: dict[Path, ast.Module], addon: Path) -> Iterator[Word]:
    """What errors and progress say in the add-on itself, and templates that are filled without being looked up."""
    for path, tree in trees.items():
        place = path.relative_to(addon).as_posix()
        if place in CONSOLE:
            continue
        texts = [*list_errors(tree), *(list_texts(tree) if place in KEPT_ENGLISH else ())]
        named = name_constants(tree)
        for call in ast.walk(tree):
            if isinstance(call, ast.Call) and isinstance(call.func, ast.Attribute) and call.func.attr == "format":
                texts += [node.value for _, node in put(CORE, call.func.value, named)]
            spoken = SPOKEN_BY.get(ast.unparse(call.func)) if isinstance(call, ast.Call) else None
            if spoken is not None and spoken < len(call.args):
                texts += filter(None, [read_text(call.args[spoken])])
        yield from (Word(CORE, text, place) for text in texts)


def find_literals(tree: ast.Module) -> Literals:
    """Literals of a module with the context they are looked up in."""
    named = name_constants(tree)
    for value in named.values():
        yield from literals_of_items(value)
    yield from find_in(tree, named)


def name_constants(tree: ast.Module) -> dict[str, ast.expr]:
    """What the names of a module stand for."""
    lines = [line for line in tree.body if isinstance(line, ast.Assign)]
    return {line.targets[0].id: line.value for line in lines if isinstance(line.targets[0], ast.Name)}


def find_in(node: ast.AST, named: dict[str, ast.expr]) -> Literals:
    """Literals below a node. named : what names stand for there: those of the module, then those of the function"""
    for inner in ast.iter_child_nodes(node):
        own = {**named, **name_locals(inner)} if isinstance(inner, ast.FunctionDef) else named
        if isinstance(inner, ast.ClassDef):
            yield from literals_of_class(inner)
        elif isinstance(inner, ast.FunctionDef) and inner.name in TOLD:
            yield from literals_of_told(inner, own)
        elif isinstance(inner, ast.Call):
            yield from literals_of_call(inner, own)
        yield from find_in(inner, own)


def name_locals(function: ast.FunctionDef) -> dict[str, ast.expr]:
    """What the names in a function stand for that are given a literal, or one of several."""
    found: dict[str, ast.expr] = {}
    for line in ast.walk(function):
        if isinstance(line, ast.Assign) and isinstance(line.targets[0], ast.Name):
            name = line.targets[0].id
            found[name] = ast.BoolOp(ast.Or(), [found[name], line.value]) if name in found else line.value
    return found


def literals_of_class(node: ast.ClassDef) -> Literals:
    """`bl_label` and `bl_description`; for want of the latter an operator's docstring is its tip."""
    operator = any(ast.unparse(base) == "bpy.types.Operator" for base in node.bases)
    given: dict[str, ast.expr] = {}
    for line in node.body:
        if isinstance(line, ast.Assign) and isinstance(line.targets[0], ast.Name):
            given[line.targets[0].id] = line.value
    yield from put(OPERATOR if operator else ANY, given.get("bl_label"))
    yield from put(ANY, given.get("bl_description"))
    first = node.body[0]
    if "bl_label" in given and "bl_description" not in given and isinstance(first, ast.Expr):
        yield from put(ANY, first.value)


def literals_of_told(node: ast.FunctionDef, named: dict[str, ast.expr]) -> Literals:
    """What a step returns to be told, and why it cannot run."""
    for line in ast.walk(node):
        if isinstance(line, ast.Return) or (isinstance(line, ast.Assign) and ast.unparse(line.targets[0]) == "lack"):
            yield from put(ANY, line.value, named)


def literals_of_call(node: ast.Call, named: dict[str, ast.expr]) -> Literals:
    """Texts of a layout's call, names, descriptions and items of a property, what the add-on itself looks up."""
    called = ast.unparse(node.func).rpartition(".")[2]
    keywords = {keyword.arg: keyword.value for keyword in node.keywords}
    if LOOKED_UP.get(called, len(node.args)) < len(node.args):
        yield from put(ANY, node.args[LOOKED_UP[called]], named)
    if called.startswith("ask_"):  # name and description come first; quantities.py gives names a context
        own = ANY if called in ("ask_number", "ask_whether") else CORE
        for context, part in zip((own, ANY), node.args[:2], strict=False):
            yield from put(context, part)
    for name in SHOWN:
        yield from put(OPERATOR if called == "operator" else ANY, keywords.get(name), named)
    if called.endswith("Property"):
        own = CORE if "translation_context" in keywords else ANY
        yield from put(own, keywords.get("name"))
        yield from put(ANY, keywords.get("description"))
        items = keywords.get("items")
        yield from literals_of_items(named.get(items.id) if own == CORE and isinstance(items, ast.Name) else items, own)


def literals_of_items(items: ast.expr | None, context: str = ANY) -> Literals:
    """Name, in the property's context, and description of each item of an enumeration that is written out."""
    for item in getattr(items, "elts", ()):
        if isinstance(item, ast.Tuple) and len(item.elts) >= 3:
            yield from put(context, item.elts[1])
            yield from put(ANY, item.elts[2])


def put(context: str, node: ast.expr | None, named: dict[str, ast.expr] | None = None) -> Literals:
    """A literal, or those that a condition chooses between, or what the module has under that name; with a context."""
    if isinstance(node, ast.IfExp):
        yield from put(context, node.body, named)
        yield from put(context, node.orelse, named)
    elif isinstance(node, ast.BoolOp):
        for value in node.values:
            yield from put(context, value, named)
    elif isinstance(node, ast.Name) and named and node.id in named:
        yield from put(context, named[node.id])
    elif isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield context, node


def list_places(text: str) -> list[str]:
    """The values that a template puts in."""
    return sorted(name for _, name, _, _ in Formatter().parse(text) if name is not None)


def load_catalogues() -> ModuleType:
    """The add-on's reader of catalogues, which needs no Blender."""
    return load_part("catalogues")


def load_part(name: str) -> ModuleType:
    """A part of the add-on's translations that needs no Blender."""
    spec = importlib.util.spec_from_file_location(name, ADDON / "translations" / f"{name}.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # its dataclasses look there
    spec.loader.exec_module(module)
    return module


def write_entries(words: Iterable[Word]) -> str:
    """Words as entries of a catalogue, to be translated."""
    entries = []
    for word in words:
        context = f'msgctxt "{word.context}"\n' if word.context != ANY else ""
        entries.append(f'#: {word.place.partition(":")[0]}\n{context}msgid {quote(word.text)}\nmsgstr ""\n')
    return "\n".join(entries)


def quote(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


def tell_state() -> None:
    """Print what each catalogue lacks and what it holds in vain."""
    said = {(word.context, word.text): word for word in reversed(collect_all())}
    for path in sorted((ADDON / "translations").glob("*.po")):
        catalogue = load_catalogues().read_catalogue(path)
        lacks = [word for key, word in said.items() if key not in catalogue]
        vain = sorted(set(catalogue) - set(said))
        print(f"# {path.name}: {len(set(said) & set(catalogue))} of {len(said)}; {len(lacks)} are lacking")
        print(write_entries(reversed(lacks)))
        for context, text in vain:
            print(f"# no longer said: {context} {quote(text)}")


if __name__ == "__main__":
    tell_state()
