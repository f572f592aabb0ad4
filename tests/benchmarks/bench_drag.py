"""Bones dragged by the posing tools, part by part, beside Blender's own update in the same run.

Of made-up animals of 50 to 600 elements (herd.py): median, p95 and worst of every move of the mouse on the wall, and
the median of the processor's time, which other programs on the machine lengthen less. First as a hand has it, the
figures when their timer is due; then all at every move. The last row of each Blender lists which figures are live.
Where Blender and the zip are looked for: bench_live_row.py.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from bench_live_row import BLENDER, HERD, find_blenders, find_zip
from herd import make_animal

HERE = Path(__file__).parent
MOVES = 120
PARTS = ("the tool's step", BLENDER, "the figures")
"""As drag.py names them."""

AIM = "aim at 300: 16 ms, p95 33 ms, worst 100 ms"


def run() -> list[dict[str, Any]]:
    """Every animal in each Blender."""
    rows, extension = [], find_zip()
    with tempfile.TemporaryDirectory(prefix="counterpoise-herd-") as folder:
        documents = [make_animal(Path(folder) / str(count), count) for count in HERD]
        for python in find_blenders():
            for document in documents:
                record = _drag(python, extension, document)
                rows += _list_drags(record)
            rows.append(_list_live(record))
    return rows


def _drag(python: Path, extension: Path, document: Path) -> dict[str, Any]:
    """What drag.py finds in a Blender that nobody has used."""
    with tempfile.TemporaryDirectory(prefix="counterpoise-bench-") as folder:
        result = Path(folder) / "result.json"
        environment = {**os.environ, "BLENDER_USER_RESOURCES": str(Path(folder) / "blender")}
        environment.pop("PYTHONPATH", None)
        script = [str(python), str(HERE / "drag.py"), str(extension), str(document), str(result), str(MOVES)]
        done = subprocess.run(script, env=environment, capture_output=True, text=True, encoding="utf-8", check=False)
        if done.returncode or not result.exists():
            raise RuntimeError(f"{python} stopped with {done.returncode}:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
        record: dict[str, Any] = json.loads(result.read_text(encoding="utf-8"))
        return record


def _list_drags(record: dict[str, Any]) -> list[dict[str, Any]]:
    """All drags together, then each whole and by part."""
    drags = record["drags"]
    every = [move for moves in drags.values() for move in moves]
    peer = statistics.median(move[BLENDER][0] for move in every)
    load = f"; load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    named = f"Blender {record['blender']}, {record['elements']} elements"
    rows = [_list_by_hand(named, list(record["by hand"].values()), peer, f"{AIM}{load}")]
    rows += [_row(f"{named}: a move of all drags, all figures at each", every, PARTS, peer, f"{AIM}{load}")]
    rows += [_row(f"  {part}", every, (part,), peer, "") for part in PARTS]
    for name, moves in drags.items():
        shares = ", ".join(f"{part} {1e3 * _middle(moves, (part,)):.3g}" for part in PARTS)
        rows.append(_row(f"  {name}", moves, PARTS, peer, f"medians by part [ms]: {shares}"))
    return rows


def _list_by_hand(named: str, drags: list[dict[str, Any]], peer: float, note: str) -> dict[str, Any]:
    """All drags together, 60 places of the mouse a second."""
    late = [seconds for drag in drags for seconds in drag["late_s"]]
    rate = sum(drag["figures"] for drag in drags) / sum(drag["took_s"] for drag in drags)
    told = f"median of {len(late)}; {_spread(late)}; figures {rate:.0f} times a second; {note}"
    middle = statistics.median(late)
    name = f"{named}: a move of a mouse that is read 60 times a second"
    return {"name": name, "ours_s": middle, "peer": BLENDER, "peer_s": peer, "ratio": middle / peer, "note": told}


def _spread(seconds: list[float]) -> str:
    late = statistics.quantiles(seconds, n=20)[-1]
    return f"p95 {1e3 * late:.3g} ms, worst {1e3 * max(seconds):.3g} ms"


def _middle(moves: list[dict[str, list[float]]], parts: tuple[str, ...], clock: int = 0) -> float:
    return statistics.median(sum(move[part][clock] for part in parts) for move in moves)


def _row(name: str, moves: list[Any], parts: tuple[str, ...], peer: float, note: str) -> dict[str, Any]:
    wall = [sum(move[part][0] for part in parts) for move in moves]
    told = f"median of {len(wall)}; {_spread(wall)}"
    told += f"; processor's {1e3 * _middle(moves, parts, 1):.3g} ms"
    middle = statistics.median(wall)
    note = f"{told}; {note}" if note else told
    return {"name": name, "ours_s": middle, "peer": BLENDER, "peer_s": peer, "ratio": middle / peer, "note": note}


def _list_live(record: dict[str, Any]) -> dict[str, Any]:
    live = record["live"]
    note = f"{', '.join(live['live'])}. Once the pose rests: {', '.join(live['at rest'])}"
    name = f"Blender {record['blender']}: figures that are live"
    return {"name": name, "ours_s": None, "peer": None, "peer_s": None, "ratio": None, "note": note}
