"""Names of elements and parts as figures with many joints show them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

SERIES_NAMES: dict[str, str] = {
    "skull": "skull",
    "cervical": "neck",
    "dorsal": "trunk",
    "sacral": "sacrum",
    "caudal": "tail",
}

LABEL_PT = 5.8
"""Size of names that stand upright below a figure."""

MOST_LABELS = 75
"""So many such names fit beside each other on a page."""

_LONGEST_LABEL = 26
_WIDEST = "DejaVu Sans"
"""Of the fonts that pages name; it comes with matplotlib."""


def measure_names(names: Iterable[str], size_pt: float) -> float:
    """How long the longest of them is [in] in the widest font that a page may show them in."""
    shapes = (TextPath((0, 0), name, size=size_pt, prop=FontProperties(family=_WIDEST)) for name in names if name)
    return max((float(shape.get_extents().width) for shape in shapes), default=0.0) / 72


def shorten_name(name: str) -> str:
    """A long name without its middle: elements of a series differ at the ends."""
    if len(name) <= _LONGEST_LABEL:
        return name
    return f"{name[: _LONGEST_LABEL - 12]}…{name[-11:]}"


def shorten_names(names: Iterable[str], longest: int) -> dict[str, str]:
    """Names by what they are shown as: the long ones without their middles, unless two would look alike."""
    shown = {
        name: name if len(name) <= longest else f"{name[: longest // 2]}…{name[-(longest // 2 - 1) :]}"
        for name in names
    }
    looks = list(shown.values())
    return {name: look if looks.count(look) == 1 else name for name, look in shown.items()}


def list_runs(parts: Sequence[str]) -> Iterator[tuple[int, int, str]]:
    """First index, index behind the last, and name of every run of one part of the skeleton."""
    starts = [i for i, part in enumerate(parts) if i == 0 or parts[i - 1] != part]
    for start, end in zip(starts, [*starts[1:], len(parts)], strict=True):
        yield start, end, SERIES_NAMES.get(parts[start], parts[start])
