"""The panel's live row while a bone is dragged, part by part, beside Blender's own update in the same run.

Of made-up animals of 50 to 600 elements (herd.py) and of the dog: medians on the wall, and of processor time, which
other programs on the machine lengthen less.

In every Python with Blender's module that is there (.venv-blender-*, or COUNTERPOISE_BLENDER_PYTHON), with the zip that
COUNTERPOISE_ZIP names, else the newest for this platform in dist/.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from herd import make_animal

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
UPDATES = 300
HERD = (50, 150, 300, 600)
PLATFORMS = {"linux": "linux-x64", "darwin": "macos-arm64", "win32": "windows-x64"}
BLENDER, WHOLE = "Blender's own update", "the panel's whole update"
"""As live_row.py names them."""

AIM = "aim at 300: 16 ms, p95 33 ms, worst 100 ms"


def run() -> list[dict[str, Any]]:
    """Every animal in each Blender."""
    rows, extension = [], find_zip()
    with tempfile.TemporaryDirectory(prefix="counterpoise-herd-") as folder:
        documents = [make_animal(Path(folder) / str(count), count) for count in HERD]
        documents.append(find_document())
        for python in find_blenders():
            for document in documents:
                rows += _list_parts(_drag(python, extension, document))
    return rows


def find_blenders() -> list[Path]:
    """Pythons that hold Blender's module."""
    named = os.environ.get("COUNTERPOISE_BLENDER_PYTHON")
    if named:
        return [Path(named)]
    places = ("bin/python", "Scripts/python.exe")
    found = [folder / place for folder in sorted(ROOT.glob(".venv-blender-*")) for place in places]
    found = [path for path in found if path.exists()]
    if not found:
        raise FileNotFoundError("no Python with Blender's module: run make blender, or set COUNTERPOISE_BLENDER_PYTHON")
    return found


def find_zip() -> Path:
    """The built extension."""
    named = os.environ.get("COUNTERPOISE_ZIP")
    if named:
        return Path(named).resolve()
    zips = sorted((ROOT / "dist").glob(f"*{PLATFORMS[sys.platform]}.zip"), key=lambda path: path.stat().st_mtime)
    if not zips:
        raise FileNotFoundError("no zip for this platform in dist/: run make blender, or set COUNTERPOISE_ZIP")
    return zips[-1]


def find_document() -> Path:
    """The dog's document, made anew from the bones: of today's joints, those that have not changed from a cache."""
    own = ROOT / "build" / "bench" / "dog.json"
    bones, table = ROOT / ".cache" / "dog", own.with_name("elements.csv")
    own.parent.mkdir(parents=True, exist_ok=True)
    command = [sys.executable, "-m", "core_calcs"]
    subprocess.run([*command, "survey", str(bones), "--unit", "m", "--table", str(table)], cwd=ROOT, check=True)
    named = ["--meshes", str(bones), "--document", str(own), "--name", "dog", "--replace"]
    kept = ["--cache", str(own.with_name("joints"))]
    subprocess.run([*command, "articulate", str(table), *named, *kept], cwd=ROOT, check=True)
    return own


def _drag(python: Path, extension: Path, document: Path) -> dict[str, Any]:
    """What live_row.py finds in a Blender that nobody has used."""
    with tempfile.TemporaryDirectory(prefix="counterpoise-bench-") as folder:
        result = Path(folder) / "result.json"
        environment = {**os.environ, "BLENDER_USER_RESOURCES": str(Path(folder) / "blender")}
        environment.pop("PYTHONPATH", None)
        script = [str(python), str(HERE / "live_row.py"), str(extension), str(document), str(result), str(UPDATES)]
        done = subprocess.run(script, env=environment, capture_output=True, text=True, encoding="utf-8", check=False)
        if done.returncode or not result.exists():
            raise RuntimeError(f"{python} stopped with {done.returncode}:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
        record: dict[str, Any] = json.loads(result.read_text(encoding="utf-8"))
        return record


def _list_parts(record: dict[str, Any]) -> list[dict[str, Any]]:
    steps, parts = record["steps"], record["parts"]
    own, ours = ([step[name] for step in steps] for name in (BLENDER, WHOLE))
    peer = statistics.median(wall for wall, _ in own)
    animal = f"Blender {record['blender']}, {record['elements']} elements, {record['bones']} bones"
    loaded = f"{len(steps)} updates, load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else str(len(steps))
    whole = [sum(step[name][0] for name in (BLENDER, WHOLE)) for step in steps]
    rows = [
        _part_row(f"{animal}: {WHOLE}", [wall for wall, _ in ours], peer, f"{AIM}; {loaded}"),
        _part_row("  the same, processor time", [cpu for _, cpu in ours], peer, ""),
        _part_row("  with Blender's own update", whole, peer, "what a drag waits for before it is drawn"),
    ]
    for part in dict.fromkeys(part for own_parts in parts for part in own_parts):
        rows.append(_part_row(f"  {part}", [times.get(part, 0.0) for times in parts], peer, ""))
    drawn = (("facets of all joints", "facets_s"), ("all of the balance", "balance_s"), ("bones by range", "ranges_s"))
    rows += [_part_row(f"  {name}", record[key], peer, "where shown, as it is drawn") for name, key in drawn]
    return rows


def _part_row(name: str, times: list[float], own: float, note: str) -> dict[str, Any]:
    late = statistics.quantiles(times, n=20)[-1]
    figures = f"median; p95 {late * 1e3:.3g} ms, worst {max(times) * 1e3:.3g} ms"
    middle = statistics.median(times)
    note = f"{figures}; {note}" if note else figures
    return {"name": name, "ours_s": middle, "peer": BLENDER, "peer_s": own, "ratio": middle / own, "note": note}
