"""The joints along neck, trunk and tail, in order from the head to the tip of the tail."""

from __future__ import annotations

from dataclasses import dataclass

from ..skeleton.element import Series
from ..skeleton.tree import Skeleton

_HEAD_ENDS: tuple[Series, ...] = ("skull", "cervical", "dorsal")


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

    Head end: the first element of the skull on the longest way there, else the farthest cervical, else the farthest
    dorsal; tail end: the farthest caudal. A joint both ways share is counted with those in front.
    """
    paths = _paths_from_root(skeleton)
    series = {element.name: element.series for element in skeleton.elements}
    head: tuple[str, ...] = ()
    for wanted in _HEAD_ENDS:
        ends = [path for name, path in paths.items() if path and series[name] == wanted]
        if wanted == "skull":
            ends = [path for path in ends if len(path) == 1 or series[path[-2]] != "skull"]
        if ends:
            head = max(ends, key=lambda path: (sum(series[n] in _HEAD_ENDS for n in path), -len(path)))
            break
    tails = [path for name, path in paths.items() if path and series[name] == "caudal"]
    tail = max(tails, key=lambda path: (sum(series[n] == "caudal" for n in path), -len(path)), default=())
    return ColumnJoints(tuple(reversed(head)), tuple(name for name in tail if name not in head))


def _paths_from_root(skeleton: Skeleton) -> dict[str, tuple[str, ...]]:
    """The children on the way from the root to every element, the element itself included."""
    paths: dict[str, tuple[str, ...]] = {skeleton.root.name: ()}
    for joint in skeleton.joints:
        paths[joint.child] = (*paths[joint.parent], joint.child)
    return paths
