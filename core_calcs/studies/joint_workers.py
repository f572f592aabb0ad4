"""Many joints searched for at once, each core of the computer taking its share.

The work is small steps of Python, which threads of one process cannot share (measured: two are no faster than one). So
each worker is a Python of its own that reads the two elements and answers with the joint as text, which is all that the
two have in common: it works in Blender too, whose windows stay quick meanwhile, and to stop is to end the workers. What
a worker does not answer (it could not be started, or was ended from outside) is searched for in this process.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from queue import Empty, Queue
from typing import Any, TextIO

from ..articulation.partner import Partner
from ..document.structure import structure_value, unstructure_value
from ..skeleton.joint import Joint
from ..spatial import errors
from ..spatial.errors import CounterpoiseError
from ..spatial.progress import Progress, part_of
from .joint_cache import JointCache
from .joint_search import JointSearch, SearchedEnd, search_joint

MOST_WORKERS = 4
"""Each takes some 200 MB, of scans of millions of triangles more."""
LEAST_EACH = 4
"""Fewer joints than that are not worth a worker's start."""

_PATIENCE_S = 0.1
_CORE = Path(__file__).parents[1]
_START = (
    "import json, sys; sys.path[:] = json.loads(sys.argv[1]); "
    f"from {_CORE.name}.studies.joint_workers import serve; serve(sys.argv[2])"
)
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")

Finish = Callable[[Progress], dict[str, Joint]]
"""Waits until all are found; the joints by child. Its progress may raise Cancelled."""


@contextmanager
def begin_searches(
    searches: Sequence[JointSearch], mesh_folder: Path, cache: JointCache | None, workers: int | None = None
) -> Iterator[Finish]:
    """Begin to look for joints, those that the cache has excepted; workers that have not finished are ended at the end.

    What is found depends neither on how many workers there are nor on who finds it.

    Parameters
    ----------
    workers : how many; as many as there are cores where None. Few joints are searched for in this process
    """
    found = {search.child.name: joint for search in searches if cache and (joint := cache.find(search))}
    lacking = [search for search in searches if search.child.name not in found]
    count = min(workers or _count_cores(), MOST_WORKERS, len(lacking) // LEAST_EACH) if _is_python() else 0
    crew = _Crew(lacking, _split(len(lacking), count)) if count > 1 else None
    order = _Order(lacking, mesh_folder, cache, found, crew)
    try:
        if crew is not None:
            _start_crew(crew, mesh_folder)
        yield lambda progress: _finish(order, progress)
    finally:
        if crew is not None:
            _end_crew(crew)
        if cache is not None and lacking:
            cache.tidy()


def serve(mesh_folder: str) -> None:
    """What a worker does: a search a line from standard input, an answer a line to standard output."""
    answers, sys.stdout = sys.stdout, sys.stderr  # what a library may print is no answer
    ready: dict[SearchedEnd, Partner] = {}
    for line in sys.stdin:
        answers.write(json.dumps(_answer(line, Path(mesh_folder), ready)) + "\n")
        answers.flush()


def _answer(line: str, mesh_folder: Path, ready: dict[SearchedEnd, Partner]) -> dict[str, Any]:
    try:
        search = structure_value(json.loads(line), JointSearch)
        return {"joint": unstructure_value(search_joint(search, mesh_folder, ready=ready))}
    except CounterpoiseError as error:
        return {"error": [type(error).__name__, error.where, error.what, error.remedy]}
    except Exception:  # noqa: BLE001  raised again where the answer is read
        return {"fault": traceback.format_exc()}


@dataclass(eq=False)
class _Crew:
    """The workers, what each has before it, and what they have answered: number of the search and the line."""

    searches: Sequence[JointSearch]
    stretches: list[list[int]]
    processes: list[subprocess.Popen[str]] = field(default_factory=list)
    threads: list[threading.Thread] = field(default_factory=list)
    answers: Queue[tuple[int, str] | None] = field(default_factory=Queue)
    lock: threading.Lock = field(default_factory=threading.Lock)


@dataclass(frozen=True, eq=False)
class _Order:
    """What is asked for, and what is there of it already."""

    lacking: Sequence[JointSearch]
    mesh_folder: Path
    cache: JointCache | None
    found: dict[str, Joint]
    crew: _Crew | None


def _split(count: int, shares: int) -> list[list[int]]:
    """Numbers in stretches of like length: neighbours, which have an element in common, come to one worker."""
    ends = [count * k // max(shares, 1) for k in range(shares + 1)]
    return [list(range(ends[k], ends[k + 1])) for k in range(shares)]


def _start_crew(crew: _Crew, mesh_folder: Path) -> None:
    paths = [str(_CORE.parent), *(path for path in sys.path if path)]
    command = [sys.executable, "-I", "-c", _START, json.dumps(paths), str(mesh_folder.absolute())]
    for own in range(len(crew.stretches)):
        try:
            crew.processes.append(
                subprocess.Popen(
                    command,
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    stderr=subprocess.DEVNULL,
                    encoding="ascii",
                    env=os.environ | dict.fromkeys(_ONE_THREAD, "1"),
                    start_new_session=True,  # Ctrl C is for the one who started them
                    creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
                )
            )
        except (OSError, ValueError):
            return
        crew.threads.append(threading.Thread(target=_drive, args=(crew, own), daemon=True))
        crew.threads[-1].start()


def _end_crew(crew: _Crew) -> None:
    for process in crew.processes:
        process.kill()
    for thread in crew.threads:
        thread.join()
    for process in crew.processes:
        process.wait()
        for pipe in (process.stdin, process.stdout):
            _close(pipe)


def _close(pipe: TextIO | Any) -> None:
    try:
        pipe.close()
    except OSError:  # what was not sent to a worker that is gone
        return


def _drive(crew: _Crew, own: int) -> None:
    """Give a worker one search after another, in a thread of its own, as long as there are any and it answers."""
    process = crew.processes[own]
    try:
        while (number := _take(crew, own)) is not None:
            assert process.stdin is not None
            assert process.stdout is not None
            process.stdin.write(json.dumps(unstructure_value(crew.searches[number])) + "\n")
            process.stdin.flush()
            answer = process.stdout.readline()
            if not answer.endswith("\n"):
                return
            crew.answers.put((number, answer))
    except (OSError, ValueError):
        return
    finally:
        crew.answers.put(None)


def _take(crew: _Crew, own: int) -> int | None:
    """The next of a worker's own stretch, else the last of the longest other one."""
    with crew.lock:
        if crew.stretches[own]:
            return crew.stretches[own].pop(0)
        longest = max(crew.stretches, key=len)
        return longest.pop() if longest else None


def _finish(order: _Order, progress: Progress) -> dict[str, Joint]:
    done = 0
    if order.crew is not None:
        for number, joint in _collect(order.crew, len(order.lacking), progress):
            _note(order, order.lacking[number], joint)
            done += 1
    ready: dict[SearchedEnd, Partner] = {}
    for search in order.lacking:
        if search.child.name not in order.found:
            within = part_of(progress, done / len(order.lacking), (done + 1) / len(order.lacking))
            _note(order, search, search_joint(search, order.mesh_folder, within, ready))
            done += 1
    return order.found


def _note(order: _Order, search: JointSearch, joint: Joint) -> None:
    order.found[search.child.name] = joint
    if order.cache is not None:
        order.cache.keep(search, joint)


def _collect(crew: _Crew, count: int, progress: Progress) -> Iterator[tuple[int, Joint]]:
    """What the workers answer, as it comes."""
    working, done, last = len(crew.threads), 0, "joints"
    while working:
        progress(f"looking for {count} joints, {len(crew.threads)} at once: {last}", done / count)
        try:
            answered = crew.answers.get(timeout=_PATIENCE_S)
        except Empty:
            continue
        if answered is None:
            working -= 1
            continue
        number, line = answered
        done, last = done + 1, f"joint of {crew.searches[number].child.name}"
        yield number, _read_answer(line)


def _read_answer(line: str) -> Joint:
    answer = json.loads(line)
    if "joint" in answer:
        return structure_value(answer["joint"], Joint)
    if "error" in answer:
        kind, where, what, remedy = answer["error"]
        raise getattr(errors, kind)(where, what, remedy)
    raise RuntimeError(f"a worker failed:\n{answer['fault']}")


def _is_python() -> bool:
    """Whether Python can be started anew: a program that holds it and found none beside names itself instead."""
    return Path(sys.executable or "").stem.lower().startswith("python")


def _count_cores() -> int:
    """That this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
