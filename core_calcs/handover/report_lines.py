"""A row of a table in the report."""

from __future__ import annotations

from dataclasses import dataclass

from ..studies.assessment import State
from .state_marks import STATE_MARKS, StateMark


@dataclass(frozen=True)
class Line:
    """One row of a table: its cells, and a state where it has one."""

    cells: tuple[str, ...]
    state: State | None = None
    state_text: str = ""

    @property
    def mark(self) -> StateMark | None:
        """How its state is shown."""
        return STATE_MARKS[self.state] if self.state else None
