"""Counts and lists in words."""

from __future__ import annotations

from collections.abc import Sequence


def count_of(count: int, name: str) -> str:
    """E.g. "1 joint", "2 joints"."""
    return f"{count} {name}{'' if count == 1 else 's'}"


def join_words(words: Sequence[str]) -> str:
    """E.g. "a, b and c"."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def list_some(names: Sequence[str], most: int = 3) -> str:
    """The first few as `join_words` has them, and how many more."""
    if len(names) <= most + 1:
        return join_words(names)
    return f"{', '.join(names[:most])} and {len(names) - most} more"


def list_names(names: Sequence[str], most: int = 4) -> str:
    """E.g. "a, b, c and 3 more": commas alone where all are named."""
    rest = len(names) - most
    return ", ".join(names[:most]) + (f" and {rest} more" if rest > 0 else "")
