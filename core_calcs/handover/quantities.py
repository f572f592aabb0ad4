"""Figures as people read them: degrees, millimetres, kilonewtons, and `not known` where there is no figure."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

NOT_KNOWN = "not known"
MINUS = "−"
THIN_SPACE = "\u202f"

_EDGE_UNITS = {"rad": ("°", 180 / math.pi), "deg": ("°", 1.0)}
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_TINY = 1e-4


def format_figure(value: float | None, digits: int = 3) -> str:
    """A figure to so many significant digits; whole numbers in full, thousands apart; powers of ten where tiny."""
    if value is None or not math.isfinite(value):
        return NOT_KNOWN
    if value == 0:
        return "0"
    power = math.floor(math.log10(abs(value)))
    sign = MINUS if value < 0 else ""
    if abs(value) < _TINY:
        leading, power = f"{abs(value):.1e}".split("e")[0], int(f"{value:.1e}".split("e")[1])
        return f"{sign}{leading}·10{str(power).translate(_RAISED)}"
    return sign + f"{abs(value):,.{max(0, digits - 1 - power)}f}".replace(",", THIN_SPACE)


def format_fixed(value: float | None, places: int) -> str:
    """A figure to so many decimal places, for columns that line up."""
    if value is None or not math.isfinite(value):
        return NOT_KNOWN
    text = f"{abs(value):,.{places}f}".replace(",", THIN_SPACE)
    negative = value < 0 and float(text.replace(THIN_SPACE, "")) != 0
    return (MINUS if negative else "") + text


def format_column(values: Sequence[float | None]) -> list[str]:
    """Figures of one kind with the decimals that give the largest of them four digits, so that they line up."""
    known = [abs(value) for value in values if value is not None and math.isfinite(value)]
    largest = max(known, default=0.0)
    places = min(6, max(0, 3 - math.floor(math.log10(largest)))) if largest > 0 else 0
    return [format_fixed(value, places) for value in values]


def format_setting(value: float, unit: str) -> str:
    """A figure that somebody set, as it was set."""
    return f"{value:.6g} {unit}".replace("-", MINUS)


def format_quantity(value: float | None, unit: str, digits: int = 3) -> str:
    """A figure in SI with the unit that suits its size: mm below a metre, kN and kN·m above a thousand, degrees."""
    if value is None or not math.isfinite(value):
        return NOT_KNOWN
    shown, scale = choose_unit([value], unit)
    if shown == "°":
        return f"{format_fixed(value * scale, 1)}°"
    if shown == "mm" and 0 < abs(value) < 0.01:
        return f"{format_fixed(value * scale, 2)} mm"
    return f"{format_figure(value * scale, digits)} {shown}".strip()


def choose_unit(values: Iterable[float], unit: str) -> tuple[str, float]:
    """The unit to show SI figures in, by the largest of them, and what to multiply them by."""
    largest = max((abs(value) for value in values if math.isfinite(value)), default=0.0)
    if unit in ("N", "N·m", "Nm", "N m"):
        name = "N" if unit == "N" else "N·m"
        return (f"k{name}", 1e-3) if largest >= 1000 else (name, 1.0)
    if unit == "m":
        return ("m", 1.0) if largest >= 1 else ("mm", 1000.0)
    return _EDGE_UNITS.get(unit, (unit, 1.0))
