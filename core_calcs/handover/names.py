"""File names that every file system takes, made from the names of poses and elements."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence

_RESERVED = {"CON", "PRN", "AUX", "NUL", *(f"{port}{i}" for port in ("COM", "LPT") for i in range(10))}
"""Device names of Windows, with or without an extension (Microsoft, "Naming Files, Paths, and Namespaces")."""

_LONGEST = 80
"""Greatest length [bytes of UTF-8]: a path of 260 characters is the limit on many Windows machines."""


def safe_file_names(names: Sequence[str], taken: Iterable[str] = (), suffix: str = "") -> dict[str, str]:
    """One file name for each name: of letters, digits, ``-``, ``_`` and ``.``, no two alike when case is ignored.

    Parameters
    ----------
    names : any text, no two alike
    taken : file names that are already used in the folder
    suffix : put behind every one, e.g. ``_mm.stl``

    Returns
    -------
    dict : file name by name, in the order given
    """
    used = {_fold(name) for name in taken}
    chosen: dict[str, str] = {}
    for name in names:
        stem = _safe_stem(name)
        number, candidate = 1, f"{stem}{suffix}"
        while _fold(candidate) in used:
            number += 1
            candidate = f"{stem}_{number}{suffix}"
        used.add(_fold(candidate))
        chosen[name] = candidate
    return chosen


def _fold(name: str) -> str:
    """The name as a case-insensitive file system that joins or splits accents sees it."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())


def _safe_stem(name: str) -> str:
    text = unicodedata.normalize("NFKC", name)
    kept = "".join(c if c.isalnum() or c in "-_." else "_" for c in text)
    while "__" in kept:
        kept = kept.replace("__", "_")
    kept = kept.strip("._-")
    kept = kept.encode()[:_LONGEST].decode(errors="ignore").rstrip("._-")
    if not kept:
        return "unnamed"
    return f"_{kept}" if kept.split(".")[0].upper() in _RESERVED else kept
