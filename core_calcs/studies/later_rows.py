"""Lists of a study that few ask for: made when somebody does, not at every turn of a dragged bone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import TypeVar, overload

from ..skeleton.joint import Joint
from ..spatial.transforms import Array
from .assessment import JointLoad

Row = TypeVar("Row")


class LaterRows(Sequence[Row]):
    """A tuple of rows that is made when one of them is first asked for.

    make : makes it, of what does not change any more
    """

    def __init__(self, count: int, make: Callable[[], tuple[Row, ...]]) -> None:
        self._count, self._make = count, make

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """All of them."""
        return self._make()

    def __len__(self) -> int:
        return self._count

    @overload
    def __getitem__(self, index: int) -> Row: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[Row, ...]: ...
    def __getitem__(self, index: int | slice) -> Row | tuple[Row, ...]:
        return self.rows[index]


class LaterLoads(LaterRows[JointLoad]):
    """Loads of joints, of which the moments are known without rows.

    of : the joints
    moments_Nm : (n, 3) of each, world axes; not numbers where they are not known
    """

    def __init__(self, of: Sequence[Joint], moments_Nm: Array, make: Callable[[], tuple[JointLoad, ...]]) -> None:
        super().__init__(len(of), make)
        self.of, self.moments_Nm = of, moments_Nm
