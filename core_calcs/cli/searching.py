"""What `counterpoise search` does."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from ..document.meshes import locate_mesh_folder
from ..document.reading import read_document
from ..handover.tables import plain_value
from ..skeleton.joint import Joint
from ..studies.joint_cache import open_cache
from ..studies.searched_joints import default_settings, search_document_joint
from .limit_text import AXES, LEGEND, describe_limits
from .recording import write_recorded
from .terminal import Terminal


@dataclass(frozen=True)
class Order:
    """What the user asked for.

    settings : by name those of LimitSettings that are to be others; the joint keeps the rest
    by : who does it, as typed
    cache : folder of joints that were found, or off; empty: the usual one
    """

    document_path: Path
    child: str
    settings: Mapping[str, float]
    from_nothing: bool
    cache: str
    by: str


def run_search(terminal: Terminal, order: Order) -> None:
    """Find a joint's facets and limits anew, and write the document."""
    document = read_document(order.document_path)
    folder = locate_mesh_folder(document, order.document_path)
    before = document.skeleton.joint_of(order.child)
    own = default_settings(document.skeleton, before)
    settings = replace(own, **order.settings)
    cache = open_cache(order.cache)
    with terminal.show_progress() as progress:
        changed = search_document_joint(document, folder, order.child, settings, order.from_nothing, progress, cache)
    joint = changed.skeleton.joint_of(order.child)
    write_recorded(order.document_path, document, changed, order.by)
    turns = "turns" if joint.moves else "fixed"
    terminal.show_line(f"{joint.parent} to {joint.child}: {joint.confidence}, {turns}: {joint.reason}.")
    _show_limits(terminal, before, joint)
    if cache is not None and cache.kept:
        terminal.show_line("Taken from the cache: the same was searched for before.")
    terminal.show_line(f"{order.document_path}: written")
    terminal.show_result({"document": str(order.document_path), "joint": plain_value(joint)})


def _show_limits(terminal: Terminal, before: Joint, after: Joint) -> None:
    rows = zip(AXES, describe_limits(before), describe_limits(after), strict=True)
    terminal.show_table(("", "until now", "from now on"), list(rows), right=(1, 2))
    terminal.show_line(LEGEND)
