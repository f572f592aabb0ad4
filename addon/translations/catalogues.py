"""Reads catalogues: .po files of gettext, as text editors and translators' tools write them."""

from __future__ import annotations

import ast
from pathlib import Path

FOLDER = Path(__file__).parent
ANY = "*"
"""Blender's context of what has none of its own."""

CORE = "Counterpoise"
"""Context of what the core says, and of labels that Blender itself has with another meaning."""

Catalogue = dict[tuple[str, str], str]
"""A translation for each context and text."""

WORDS = ("msgctxt", "msgid", "msgstr")


class CatalogueError(ValueError):
    """A catalogue that cannot be read: which file and line, what is wrong, what to do."""


def read_catalogues(folder: Path = FOLDER) -> tuple[dict[str, Catalogue], list[str]]:
    """Every catalogue of a folder by its language, which its file is called after; and what is wrong with others."""
    catalogues: dict[str, Catalogue] = {}
    faults: list[str] = []
    for path in sorted(folder.glob("*.po")):
        try:
            catalogues[path.stem] = read_catalogue(path)
        except (CatalogueError, OSError, UnicodeDecodeError) as error:
            faults.append(str(error) if isinstance(error, CatalogueError) else f"{path.name}: {error}")
    return catalogues, faults


def read_catalogue(path: Path) -> Catalogue:
    """Of a .po file what is translated and not marked as fuzzy; its heading, whose msgid is empty, is left out."""
    catalogue: Catalogue = {}
    entry: dict[str, str] = {}
    word, fuzzy = "", False
    for number, line in enumerate([*path.read_text(encoding="utf-8").splitlines(), ""], start=1):
        line = line.strip()
        start = line.partition(" ")[0]
        if "msgstr" in entry and not line.startswith('"'):  # what follows belongs to the next entry
            if not fuzzy:
                keep_entry(catalogue, entry)
            entry, word, fuzzy = {}, "", False
        if line.startswith("#,") and "fuzzy" in line:
            fuzzy = True
        elif start in WORDS and start not in entry:
            word = start
            entry[word] = read_string(line[len(word) :].strip(), path, number)
        elif line.startswith('"') and word:
            entry[word] += read_string(line, path, number)
        elif line and not line.startswith("#"):
            raise CatalogueError(f'{path.name}, line {number}: not msgctxt, msgid, msgstr or a line in "…": mend it')
    return catalogue


def keep_entry(catalogue: Catalogue, entry: dict[str, str]) -> None:
    """Put an entry into the catalogue where it says something."""
    text = entry.get("msgid", "")
    if text and entry["msgstr"]:
        catalogue[entry.get("msgctxt") or ANY, text] = entry["msgstr"]


def read_string(quoted: str, path: Path, number: int) -> str:
    r"""What stands between the quotes, \" \\ \n as gettext has them, which is as Python has them."""
    try:
        read = ast.literal_eval(quoted)
    except (SyntaxError, ValueError):
        read = None
    if not isinstance(read, str) or not quoted.startswith('"'):
        raise CatalogueError(f'{path.name}, line {number}: what is said must stand in "…", a " in it as \\": mend it')
    return read
