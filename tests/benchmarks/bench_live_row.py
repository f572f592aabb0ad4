"""The panel's live row while a bone of the dog is dragged, part by part, beside Blender's own update in the same run.

In every Python with Blender's module that is there (.venv-blender-*, or COUNTERPOISE_BLENDER_PYTHON), with the zip that
COUNTERPOISE_ZIP names, else the newest for this platform in dist/. Medians over the turns of random bones: live_row.py.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from bench_statics import SITE, make_balanced

from core_calcs.skeleton.kinematics import joint_motions
from core_calcs.studies.assess import assess_prepared
from core_calcs.studies.rigging import plan_rig, read_pose

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
UPDATES = 200
ROUNDS = 5
PLATFORMS = {"linux": "linux-x64", "darwin": "macos-arm64", "win32": "windows-x64"}
BLENDER, WHOLE = "Blender's own update", "the live row"
"""As live_row.py names them."""

AIM = "aim 16 ms, p95 33 ms"


def run() -> list[dict[str, Any]]:
    """The dog in each Blender, then how the core's share grows with the skeleton."""
    rows = []
    document, extension = find_document(), find_zip()
    for python in find_blenders():
        rows += _list_parts(_drag(python, extension, document))
    return rows + [_grow(count) for count in (50, 150, 300, 600)]


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
    samples = record["samples"]
    own = statistics.median(sample[BLENDER] for sample in samples)
    blender = f"Blender {record['blender']}"
    parts = dict.fromkeys(part for sample in samples for part in sample if part not in (BLENDER, WHOLE))
    whole = f"{AIM}; {record['elements']} elements, {record['bones']} bones, {len(samples)} updates"
    rows = [_part_row(f"{blender}: {WHOLE}", [sample[WHOLE] for sample in samples], own, whole)]
    rows += [_part_row(f"  {part}", [sample.get(part, 0.0) for sample in samples], own, "") for part in parts]
    rows.append(_part_row("with every joint's load", record["whole_study_s"], own, "whole study, as the row has it"))
    rows.append(
        _part_row("facets of all joints in the view", record["facets_s"], own, "as it is drawn, not in the row")
    )
    rows.append(
        _part_row("balance, all of it on", record["balance_s"], own, "as it is drawn after each turn, not in the row")
    )
    rows.append(_part_row("bones coloured by range", record["ranges_s"], own, "as it is drawn, not in the row"))
    return rows


def _part_row(name: str, times: list[float], own: float, note: str) -> dict[str, Any]:
    late = statistics.quantiles(times, n=20)[-1]
    figures = f"median; p95 {late * 1e3:.3g} ms, worst {max(times) * 1e3:.3g} ms"
    middle = statistics.median(times)
    note = f"{figures}; {note}" if note else figures
    return {"name": name, "ours_s": middle, "peer": BLENDER, "peer_s": own, "ratio": middle / own, "note": note}


def _grow(count: int) -> dict[str, Any]:
    """The core's share for a made-up skeleton whose joints all move: bones to angles, then its study."""
    prepared, poses = make_balanced(count)
    skeleton = prepared.skeleton
    plan = plan_rig(skeleton)
    times: list[list[float]] = [[], []]
    # In turn, so that a machine that slows down slows all of them.
    for pose in poses * ROUNDS:
        moved = joint_motions(skeleton, pose)[prepared.movers.elements]
        began = time.perf_counter()
        read_pose(skeleton, plan, moved, "live")
        read = time.perf_counter()
        assess_prepared(prepared, pose, SITE)
        for part, took in zip(times, (read - began, time.perf_counter() - read), strict=True):
            part.append(took)
    reading, study = map(statistics.median, times)
    note = f"median; reading {reading * 1e3:.2g} ms, study {study * 1e3:.2g} ms"
    name = f"the core's share, {count} elements"
    return {"name": name, "ours_s": reading + study, "peer": None, "peer_s": None, "ratio": None, "note": note}
