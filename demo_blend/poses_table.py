"""The poses of a hand-over side by side, for the terminal."""

from __future__ import annotations

import csv
from pathlib import Path

HEADS = ("pose", "state", "mass, kg", "base moment, kNm", "margin, mm", "tip angle, °", "outside range", "pairs hit")


def show_poses(path: Path) -> None:
    """Print the hand-over's comparison (poses.csv)."""
    print("", *list_lines(path), sep="\n")


def list_lines(path: Path) -> list[str]:
    """The hand-over's comparison (poses.csv) as aligned lines, a pose a line; what is not known is said so."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = [HEADS, *(word_row(row) for row in csv.DictReader(file))]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = []
    for row in rows:
        begin = [text.ljust(width) for text, width in zip(row[:2], widths[:2], strict=True)]
        figures = [text.rjust(width) for text, width in zip(row[2:], widths[2:], strict=True)]
        lines.append("  ".join((*begin, *figures)).rstrip())
    return lines


def word_row(row: dict[str, str]) -> tuple[str, ...]:
    """One pose as the table shows it."""
    moment = ", ".join(word_number(row[f"base_moment_{axis}_Nm"], 1e-3, 2) for axis in "xy")
    return (
        row["pose"],
        row["state"],
        f"{write_out(row['mass_kg'], 4)} ± {write_out(row['mass_uncertainty_kg'], 2)}",
        moment,
        word_number(row["distance_margin_m"], 1000, 0),
        word_number(row["tip_angle_deg"], 1, 1),
        row["joints_beyond_limits"],
        row["pairs_in_each_other"],
    )


def write_out(text: str, digits: int) -> str:
    """A figure of so many significant digits without a power of ten, or the words that stand for it."""
    try:
        return f"{float(f'{float(text):.{digits}g}'):.12g}"
    except ValueError:
        return text


def word_number(text: str, factor: float, decimals: int) -> str:
    """A figure of the table, or the words that stand for it."""
    try:
        return f"{round(float(text) * factor, decimals) + 0.0:.{decimals}f}"
    except ValueError:
        return text
