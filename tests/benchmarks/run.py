"""Run every bench_*.py of this folder and print how we compare: ``python tests/benchmarks/run.py [name ...]``.

Each file has ``run() -> list[dict]`` with name, ours_s, peer, peer_s, ratio (ours over peer; None without a peer) and
note. Times are the least of several, medians where the note says so, taken in the same run as the peer's.
The table is kept in build/bench.json.
"""

from __future__ import annotations

import importlib.util
import json
import os
import platform
import sys
import traceback
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
TARGET = ROOT / "build" / "bench.json"
WIDTH = 170
FIELDS = ("name", "ours_s", "peer", "peer_s", "ratio", "note")


def main(names: list[str]) -> int:
    """Run the benchmarks named, or all; 1 where one of them failed."""
    # The core from this folder, and the modules that the tests share.
    sys.path[:0] = [str(ROOT), str(HERE.parent)]
    rows: list[dict[str, Any]] = []
    failed = []
    for path in sorted(HERE.glob("bench_*.py")):
        bench = path.stem.removeprefix("bench_")
        if names and bench not in names:
            continue
        print(f"{bench} …", flush=True)
        try:
            rows += [{"bench": bench, **_check_row(row)} for row in _load(path).run()]
        except Exception:  # noqa: BLE001  a broken benchmark must not hide the others
            failed.append(bench)
            traceback.print_exc()
    _print(rows)
    _write(rows, failed)
    if failed:
        print(f"failed: {', '.join(failed)}", file=sys.stderr)
    return 1 if failed or not rows else 0


def _load(path: Path) -> Any:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _check_row(row: dict[str, Any]) -> dict[str, Any]:
    if set(row) != set(FIELDS):
        raise ValueError(f"a row needs exactly {', '.join(FIELDS)}; it has {', '.join(row)}")
    return row


def _print(rows: list[dict[str, Any]]) -> None:
    from rich.console import Console
    from rich.table import Table

    table = Table(box=None, header_style="bold")
    for column in ("bench", "name", "ours", "peer", "peer's", "ours/peer", "note"):
        table.add_column(column, justify="right" if column in ("ours", "peer's", "ours/peer") else "left")
    for row in rows:
        ratio = "" if row["ratio"] is None else f"{row['ratio']:.3g}"
        ours, peers = _format_time(row["ours_s"]), _format_time(row["peer_s"])
        table.add_row(row["bench"], row["name"], ours, row["peer"] or "", peers, ratio, row["note"])
    # Into a file or a log: no folded columns.
    Console(emoji=False, markup=False, width=None if sys.stdout.isatty() else WIDTH).print(table)


def _format_time(seconds: float | None) -> str:
    if seconds is None:
        return ""
    for unit, factor in (("s", 1.0), ("ms", 1e3)):
        if seconds * factor >= 1:
            return f"{seconds * factor:.3g} {unit}"
    return f"{seconds * 1e6:.3g} µs"


def _write(rows: list[dict[str, Any]], failed: list[str]) -> None:
    import numpy

    record = {
        "when": datetime.now(UTC).isoformat(timespec="seconds"),
        "python": platform.python_version(),
        "numpy": numpy.__version__,
        "machine": platform.machine(),
        "cores": os.cpu_count(),
        "failed": failed,
        "rows": rows,
    }
    TARGET.parent.mkdir(parents=True, exist_ok=True)
    beside = TARGET.with_suffix(".part")
    beside.write_text(json.dumps(record, indent=1, ensure_ascii=False) + "\n", encoding="utf-8", newline="\n")
    os.replace(beside, TARGET)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
