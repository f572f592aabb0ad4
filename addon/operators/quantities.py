"""Quantities that an operator asks for: in the scene's units, as somebody typed them."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np

from ..bridge.frames import scene_scale
from ..translations.catalogues import CORE
from .step import AS_GIVEN

FIGURES: dict[str, Any] = {"min": 0.0, "precision": 4, "options": AS_GIVEN, "translation_context": CORE}


def ask_length(name: str, description: str) -> Any:
    """A property for a length in scene units."""
    return bpy.props.FloatProperty(
        name=name, description=description, subtype="DISTANCE", unit="LENGTH", step=0.1, **FIGURES
    )


def ask_area(name: str, description: str) -> Any:
    """A property for an area in scene units, squared."""
    return bpy.props.FloatProperty(name=name, description=description, subtype="NONE", unit="AREA", **FIGURES)


def ask_mass(name: str, description: str) -> Any:
    """A property for a mass in the scene's units."""
    return bpy.props.FloatProperty(name=name, description=description, unit="MASS", **FIGURES)


def ask_percent(name: str, description: str, precision: int = 1) -> Any:
    """A property for a share in percent."""
    figures = FIGURES | {"precision": precision}
    return bpy.props.FloatProperty(name=name, description=description, subtype="PERCENTAGE", max=100.0, **figures)


def ask_range(name: str) -> Any:
    """A property for the two ends of a movement, as angles."""
    return bpy.props.FloatVectorProperty(
        name=name, description="Least and greatest angle", size=2, subtype="NONE", unit="ROTATION", options=AS_GIVEN
    )


def read_decimal(value: float) -> float:
    """The decimal figure that somebody typed, where Blender hands on the nearest one of 32 bits."""
    return float(str(np.float32(value)))


def unit_scale(context: bpy.types.Context) -> float:
    """Metres in one scene unit, as typed."""
    return read_decimal(scene_scale(context.scene))
