"""Ten quay striders, each sound and with a fault of every kind planted: what the survey finds, misses, makes up.

    python tests/planted/run.py --out FOLDER [--seeds N] [--first N]

Prints a line a seed and the sum; fails where a fault is missed, or where it makes up more than one state an animal.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "demo_blend"))
from finding import Outcome, judge_set
from make_strider import FAULTY, write_strider

DETAIL = 0.5
"""A quarter of the triangles: all bones are whole still, and an animal is made in a third of the time."""
MAY_MAKE_UP = 1
LINE = "{:>5}  {:>7}  {:>5}  {:>6}  {:>13}  {:>14}  {:>8}  {:>8}"


def main() -> None:
    options = read_options()
    print(LINE.format("seed", "planted", "found", "missed", "false, sound", "false, faulty", "made s", "judged s"))
    outcomes = [
        judge_seed(options.out / str(seed), seed) for seed in range(options.first, options.first + options.seeds)
    ]
    planted, missed = sum(o.planted for o, _ in outcomes), sum(len(o.missed) for o, _ in outcomes)
    sound, faulty = sum(len(s.false) for _, s in outcomes), sum(len(o.false) for o, _ in outcomes)
    print(LINE.format("all", planted, planted - missed, missed, sound, faulty, "", ""))
    bad = missed or any(len(o.false) > MAY_MAKE_UP for pair in outcomes for o in pair)
    sys.exit(1 if bad else 0)


def judge_seed(folder: Path, seed: int) -> tuple[Outcome, Outcome]:
    """Make one animal and its faulty double, and say what the survey makes of both: of the faulty, of the sound."""
    shutil.rmtree(folder, ignore_errors=True)
    begun = time.monotonic()
    write_strider(folder, seed, DETAIL, faults=True)
    made = time.monotonic()
    with ProcessPoolExecutor(2) as pool:
        sound, faulty = pool.map(judge_set, (folder, folder / FAULTY))
    seconds = (made - begun, time.monotonic() - made)
    found = faulty.planted - len(faulty.missed)
    counts = (seed, faulty.planted, found, len(faulty.missed), len(sound.false), len(faulty.false))
    print(LINE.format(*counts, *(f"{s:.0f}" for s in seconds)), flush=True)
    for word, told in (("missed", faulty.missed), ("false, sound", sound.false), ("false, faulty", faulty.false)):
        for line in told:
            print(f"       {word}: {line}", flush=True)
    return faulty, sound


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="folder to fill; a folder a seed")
    parser.add_argument("--seeds", type=int, default=10, help="how many")
    parser.add_argument("--first", type=int, default=1, help="the first of them")
    return parser.parse_args()


if __name__ == "__main__":
    main()
