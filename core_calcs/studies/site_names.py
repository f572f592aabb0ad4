"""Words for what is said of the site: quick to import, so that help comes at once."""

from __future__ import annotations

from dataclasses import fields
from typing import Literal

from ..site.actions import Factors

Spot = Literal["highest", "lowest", "tip", "left", "right"]
"""A point of an element's surface."""
FACTORS = tuple(field.name.replace("_", "-") for field in fields(Factors))
