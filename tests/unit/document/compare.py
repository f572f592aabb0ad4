"""Values compared bit for bit."""

from __future__ import annotations

import dataclasses
import struct
from typing import Any

import numpy as np


def flatten(value: Any) -> Any:
    """The value as nested tuples with every number as its eight bytes, so that == means the same bit for bit."""
    if dataclasses.is_dataclass(value):
        return (type(value).__name__, *(flatten(getattr(value, f.name)) for f in dataclasses.fields(value)))
    if isinstance(value, np.ndarray):
        return (value.shape, value.dtype.str, value.tobytes())
    if isinstance(value, dict):
        return tuple((key, flatten(item)) for key, item in value.items())
    if isinstance(value, tuple):
        return tuple(flatten(item) for item in value)
    return struct.pack("<d", value) if isinstance(value, float) else (type(value).__name__, value)
