"""The joints along neck, trunk and tail, in order from the head to the tip of the tail."""

from __future__ import annotations

from dataclasses import dataclass

from ..skeleton.element import Element, Series
from ..skeleton.tree import Skeleton

Paths = dict[str, tuple[str, ...]]
"""By every element, the children on the way from the root to it, itself included."""

_HEAD_ENDS: tuple[Series, ...] = ("skull", "cervical", "dorsal")
_TAIL_ENDS: tuple[Series, ...] = ("caudal", "sacral", "dorsal", "cervical")


@dataclass(frozen=True)
class ColumnJoints:
    """Children of the joints along the column.

    forward : from the head to the root
    backward : from the root to the tip of the tail
    """

    forward: tuple[str, ...]
    backward: tuple[str, ...]


def list_column_joints(skeleton: Skeleton) -> ColumnJoints:
    """The way through the tree from the foremost element of the column over the root to the last of the tail.

    Head end: the first element of the skull on the longest way there, else the cervical, else the dorsal of the lowest
    number; tail end: the caudal of the highest; the farthest from the root where they have no numbers. The root may be
    either end; where it is the foremost and there is no tail, the column ends with the last vertebra there is. A joint
    both ways share is counted with those in front.
    """
    paths = _paths_from_root(skeleton)
    head = _find_head(skeleton, paths)
    tail = _find_last(skeleton, paths, _TAIL_ENDS if not head else _TAIL_ENDS[:1])
    return ColumnJoints(tuple(reversed(head)), tuple(name for name in tail if name not in head))


def _find_head(skeleton: Skeleton, paths: Paths) -> tuple[str, ...]:
    """The way from the root to the foremost element."""
    series = {element.name: element.series for element in skeleton.elements}
    if skeleton.root.series == "skull":
        return ()
    # Of the skull the element that the column holds, not what hangs on it.
    skulls = [path for path in paths.values() if path and series[path[-1]] == "skull" and _is_first(path, series)]
    if skulls:
        return max(skulls, key=lambda path: (sum(series[name] in _HEAD_ENDS for name in path), -len(path)))
    for wanted in _HEAD_ENDS[1:]:
        ends = [element for element in skeleton.elements if element.series == wanted]
        if ends:
            first = min(ends, key=lambda own: (own.position or len(paths), -_rate(own, paths)))
            return paths[first.name]
    return ()


def _find_last(skeleton: Skeleton, paths: Paths, wanted: tuple[Series, ...]) -> tuple[str, ...]:
    """The way from the root to the last element of the first of these series that there is."""
    for series in wanted:
        ends = [element for element in skeleton.elements if element.series == series]
        if ends:
            return paths[max(ends, key=lambda own: (own.position or 0, _rate(own, paths))).name]
    return ()


def _is_first(path: tuple[str, ...], series: dict[str, Series]) -> bool:
    return all(series[name] != series[path[-1]] for name in path[:-1])


def _rate(element: Element, paths: Paths) -> int:
    """What hangs on a vertebra may have its number: of one number the nearest counts, without numbers the farthest."""
    return len(paths[element.name]) * (-1 if element.position else 1)


def _paths_from_root(skeleton: Skeleton) -> Paths:
    """The children on the way from the root to every element, the element itself included."""
    paths: Paths = {skeleton.root.name: ()}
    for joint in skeleton.joints:
        paths[joint.child] = (*paths[joint.parent], joint.child)
    return paths
