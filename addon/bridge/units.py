"""The units that figures are shown in: SI, or feet and pounds where the scene's unit system is imperial.

A figure is always computed in SI, from the full-resolution files; `scale_length` is not part of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import bpy

from ..core_calcs.handover.quantities import MINUS, NOT_KNOWN, choose_unit, format_column, format_quantity

FOOT_M = 0.3048
INCH_M = 0.0254
POUND_KG = 0.45359237
POUND_FORCE_N = 4.4482216152605
"""All exact: NIST Special Publication 811, appendix B.8."""


@dataclass(frozen=True)
class Unit:
    """A unit: how it is written, and how much of the SI unit it is; decimals of a length shown in it."""

    name: str
    size: float
    decimals: int = 0


@dataclass(frozen=True)
class Units:
    """What each kind of figure is shown in; great_moment: from a thousand of `moment` on."""

    place: Unit
    length: Unit
    mass: Unit
    force: Unit
    moment: Unit
    great_moment: Unit


SI = Units(Unit("m", 1.0, 3), Unit("mm", 1e-3), Unit("kg", 1.0), Unit("N", 1.0), Unit("N·m", 1.0), Unit("kN·m", 1000.0))
IMPERIAL = Units(
    Unit("ft", FOOT_M, 2),
    Unit("in", INCH_M, 1),
    Unit("lb", POUND_KG),
    Unit("lbf", POUND_FORCE_N),
    Unit("lbf·ft", POUND_FORCE_N * FOOT_M),
    Unit("kip·ft", 1000 * POUND_FORCE_N * FOOT_M),
)


def scene_units(scene: bpy.types.Scene) -> Units:
    """As the scene's properties say: imperial, else SI."""
    return IMPERIAL if scene.unit_settings.system == "IMPERIAL" else SI


def word_length(length_m: float | None, units: Units) -> str:
    """A distance in words."""
    if length_m is None:
        return NOT_KNOWN
    shown = round(length_m / units.length.size, units.length.decimals) + 0.0
    return f"{shown:.{units.length.decimals}f} {units.length.name}"


def word_mass(mass_kg: float, uncertainty_kg: float, units: Units) -> str:
    """A mass with its uncertainty."""
    unit = units.mass
    return f"{write_out(mass_kg / unit.size, 4)} ± {write_out(uncertainty_kg / unit.size, 2)} {unit.name}"


def write_out(value: float, digits: int) -> str:
    """A number of so many significant digits, without a power of ten."""
    return f"{float(f'{value:.{digits}g}'):.12g}"


def word_quantity(value: float, unit: str, units: Units) -> str:
    """A figure that is kept in an SI unit: as the core words it, or converted."""
    kinds = {"m": units.length, "kg": units.mass, "N": units.force, "N·m": units.moment}
    if units == SI or unit not in kinds:
        return format_quantity(value, unit).replace(MINUS, "-")
    if unit == "m":
        return word_length(value, units)
    return f"{format_quantity(value / kinds[unit].size, '')} {kinds[unit].name}".replace(MINUS, "-")


def word_column(values: Sequence[float | None], unit: str, units: Units) -> tuple[str, tuple[str, ...]]:
    """SI figures of one kind that stand side by side: the unit that all are written in, and each in it.

    unit : m, kg, N, N·m, rad, or none of a count
    """
    name, size = _choose_column_unit([value for value in values if value is not None], unit, units)
    shown = [None if value is None else value / size for value in values]
    fixed = {"": 0, "rad": 1, "m": units.length.decimals}
    if unit in fixed:
        return name, tuple(NOT_KNOWN if value is None else f"{value:.{fixed[unit]}f}" for value in shown)
    return name, tuple(text.replace(MINUS, "-") for text in format_column(shown))


def _choose_column_unit(known: Sequence[float], unit: str, units: Units) -> tuple[str, float]:
    if unit == "rad":
        return "°", math.pi / 180
    kinds = {"m": units.length, "kg": units.mass, "N": units.force, "N·m": units.moment}
    if unit == "m" or (units != SI and unit in kinds):
        great = unit == "N·m" and max(map(abs, known), default=0.0) >= 1000 * units.moment.size
        own = units.great_moment if great else kinds[unit]
        return own.name, own.size
    name, scale = choose_unit(known, unit)
    return name, 1 / scale
