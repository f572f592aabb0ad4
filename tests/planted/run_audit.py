"""Quay striders as they were mounted, each sound and with a fault of every kind: what the audit says of both.

    python tests/planted/run_audit.py --out FOLDER [--seeds N] [--first N] [--faulty]

Prints a line an animal, then a line a kind; fails where anything sound is accused, or too little is found. What is
planted stands in mounting.py, how it is judged in auditing.py.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "demo_blend"))
from auditing import Outcome, audit_set, judge_audit
from mounting import KINDS, plant_mount_faults
from strider.animal import make_elements
from strider.scans import make_scan, write_scans

DETAIL = 0.5
"""A quarter of the triangles."""
LINE = "{:>5}  {:>7}  {:>5}  {:>9}  {:>8}  {:>15}  {:>6}"


def main() -> None:
    options = read_options()
    print(LINE.format("seed", "planted", "found", "undecided", "accused", "sound, accused", "s"))
    seeds = range(options.first, options.first + options.seeds)
    with ProcessPoolExecutor(options.workers) as pool:
        outcomes = list(pool.map(partial(judge_mount, options.out, faulty_alone=options.faulty), seeds))
    show_kinds([faulty for faulty, _ in outcomes])
    sys.exit(1 if any(outcome.accused for pair in outcomes for outcome in pair) else 0)


def judge_mount(out: Path, seed: int, faulty_alone: bool = False) -> tuple[Outcome, Outcome]:
    """Make an animal and its wrongly mounted double, audit both; the faulty one's outcome and the sound one's."""
    begun, folder = time.monotonic(), out / str(seed)
    shutil.rmtree(folder, ignore_errors=True)
    scans = [make_scan(element, "scanned") for element in make_elements(seed, DETAIL, workers=1)]
    spoilt, faults = plant_mount_faults(scans, seed)
    write_scans(folder / "sound", scans)
    write_scans(folder / "mounted", spoilt)
    faulty = judge_audit(audit_set(folder / "mounted"), faults)
    sound = Outcome((), (), ()) if faulty_alone else judge_audit(audit_set(folder / "sound"), [])
    counts = (seed, len(faults), len(faulty.found), len(faulty.undecided), len(faulty.accused), len(sound.accused))
    lines = [LINE.format(*counts, f"{time.monotonic() - begun:.0f}")]
    lines += [f"       undecided: {fault.kind}: {', '.join(fault.elements)} {fault.way}" for fault in faulty.undecided]
    for word, outcome in (("accused", faulty), ("accused, sound", sound)):
        lines += [f"       {word}: {told}" for told in outcome.accused]
    print("\n".join(lines), flush=True)
    return faulty, sound


def show_kinds(outcomes: list[Outcome]) -> None:
    found = Counter(fault.kind for outcome in outcomes for fault in outcome.found)
    undecided = Counter(fault.kind for outcome in outcomes for fault in outcome.undecided)
    print(f"\n{'':36}  found  undecided  of")
    for kind in KINDS:
        print(f"{kind:36}  {found[kind]:>5}  {undecided[kind]:>9}  {len(outcomes):>2}")


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="folder to fill; a folder a seed")
    parser.add_argument("--seeds", type=int, default=10, help="how many")
    parser.add_argument("--first", type=int, default=1, help="the first of them")
    parser.add_argument("--faulty", action="store_true", help="leave the sound ones out: half the time")
    parser.add_argument("--workers", type=int, default=2, help="so many animals at once")
    return parser.parse_args()


if __name__ == "__main__":
    main()
