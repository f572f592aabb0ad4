"""The slow checks of poses in a Python of its own: which elements run into each other, what shows to the wind.

Orders come in at standard input, answers go out at standard output, both pickled: one program talks to itself here. An
order that comes while it works on another replaces that. What it has made ready of the elements' files it keeps.
"""

from __future__ import annotations

import os
import pickle
import sys
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from queue import SimpleQueue
from threading import Thread
from typing import IO, Any

from ..document.document import SkeletonDocument
from ..document.meshes import require_files
from ..document.reading import document_from_text
from ..skeleton.pose import Pose
from ..spatial.errors import Cancelled, CounterpoiseError
from ..spatial.progress import Progress, part_of
from .acting import Outlines, Shown, measure_poses, prepare_outlines
from .clearance import Clearance, PreparedClearance, Tried, is_prepared_for, list_hits, prepare_clearance, try_pose

_PACKAGE = __name__.rpartition(".studies.")[0]
_CORE = _PACKAGE.rpartition(".")[2]

NICE = 10
"""The computer is for the one who works with it."""


@dataclass(frozen=True, eq=False)
class RestOrder:
    """Poses of a document to be checked.

    number : greater than that of every order before; what is being done of poses of an earlier one is left, and what
        is being made ready for them goes on
    stop : leave that too
    text : the document's; empty: as it came last
    mesh_folder : where its elements' files are
    clear, blow : poses to be held against themselves, and to be shown to the wind
    """

    number: int
    text: str = ""
    mesh_folder: str = ""
    clear: tuple[Pose, ...] = ()
    blow: tuple[Pose, ...] = ()
    stop: bool = False


@dataclass(frozen=True, eq=False)
class RestAnswer:
    """What became of an order: how far it is, one pose of it, or its end.

    doing, share : how far it is, 0 to 1
    clearance, shown : of the pose of that index, of those to be held against themselves, or shown to the wind
    problem : why it cannot be done; over : nothing more follows
    """

    number: int
    doing: str = ""
    share: float = 0.0
    index: int = -1
    clearance: Clearance | None = None
    shown: Shown | None = None
    problem: str = ""
    over: bool = False


Answer = Callable[[RestAnswer], None]


@dataclass
class _Desk:
    """What is ready. latest, stopped : numbers of the last order, and of the last that stops; text : the last one that
    came; read : the last one read."""

    latest: int = 0
    stopped: int = 0
    text: str = ""
    read: tuple[str, SkeletonDocument] | None = None
    prepared: PreparedClearance | None = None
    tried: Tried | None = None
    outlines: Outlines | None = None
    orders: SimpleQueue[RestOrder | None] = field(default_factory=SimpleQueue)


def send(own: RestOrder | RestAnswer, pipe: IO[bytes]) -> None:
    """Put it into a pipe; OSError or ValueError where nobody is at the other end."""
    pickle.dump(own, pipe, protocol=pickle.HIGHEST_PROTOCOL)
    pipe.flush()


def receive(pipe: IO[bytes]) -> object:
    """The next that comes out of a pipe; None at its end."""
    try:
        return _Reader(pipe).load()
    except (EOFError, OSError, ValueError, pickle.UnpicklingError):
        return None


class _Reader(pickle.Unpickler):
    """The core has another name inside Blender's extension than in a Python of its own."""

    def find_class(self, module: str, name: str) -> Any:
        head, here, within = module.rpartition(f"{_CORE}.")
        return super().find_class(f"{_PACKAGE}.{within}" if here else head + within, name)


def serve() -> None:
    """What the Python beside does, until nobody asks it any longer."""
    out, sys.stdout = sys.stdout.buffer, sys.stderr  # what a library may print is no answer
    if hasattr(os, "nice"):
        os.nice(NICE)
    desk = _Desk()
    Thread(target=_read_orders, args=(desk,), daemon=True).start()

    def answer(own: RestAnswer) -> None:
        send(own, out)

    while (order := desk.orders.get()) is not None:
        if order.number == desk.latest:
            do_order(desk, order, answer)


def _read_orders(desk: _Desk) -> None:
    while isinstance(order := receive(sys.stdin.buffer), RestOrder):
        desk.text, desk.latest = order.text or desk.text, order.number
        desk.stopped = order.number if order.stop else desk.stopped
        desk.orders.put(order)
    os._exit(0)  # the one who asks is gone: nothing is to be finished


def do_order(desk: _Desk, order: RestOrder, answer: Answer) -> None:
    """Check the poses of an order, unless another one comes."""

    def progress(doing: str, share: float) -> None:
        if order.number != desk.latest:
            raise Cancelled
        answer(RestAnswer(order.number, doing, share))

    problem = ""
    try:
        if order.clear or order.blow:
            _check(desk, order, progress, answer)
    except Cancelled:
        return
    except CounterpoiseError as error:
        problem = str(error)
    except Exception:  # noqa: BLE001  told where the answer is read
        problem = traceback.format_exc()
    answer(RestAnswer(order.number, share=1.0, problem=problem, over=True))


def _check(desk: _Desk, order: RestOrder, progress: Progress, answer: Answer) -> None:
    text, folder = desk.text, Path(order.mesh_folder)
    if desk.read is None or desk.read[0] != text:
        desk.read = text, document_from_text(text, "document")
    document = desk.read[1]

    def go_on(doing: str, share: float) -> None:
        if desk.text != text or desk.stopped > order.number:
            raise Cancelled
        answer(RestAnswer(order.number, doing, share))

    if order.clear and (desk.prepared is None or not is_prepared_for(desk.prepared, document.skeleton)):
        desk.prepared, desk.tried = (
            prepare_clearance(document.skeleton, folder, desk.prepared, part_of(go_on, 0.0, 0.6)),
            None,
        )
    for i, pose in enumerate(order.clear):
        progress(f"clearance in {pose.name}", 0.6 + 0.1 * i / len(order.clear))
        assert desk.prepared is not None
        desk.tried = try_pose(desk.prepared, pose, desk.tried)
        answer(RestAnswer(order.number, index=i, clearance=list_hits(desk.prepared, desk.tried, document.site)))
    if order.blow:
        require_files(document.skeleton.elements, folder)
        outlining = part_of(go_on, 0.7, 0.8)
        desk.outlines = prepare_outlines(document.skeleton.elements, folder, desk.outlines, outlining)
    for i, pose in enumerate(order.blow):
        progress(f"silhouettes of {pose.name}", 0.8 + 0.2 * i / len(order.blow))
        assert desk.outlines is not None
        (shown,) = measure_poses(document.skeleton, [pose], document.site.directions, desk.outlines)
        answer(RestAnswer(order.number, index=i, shown=shown))
