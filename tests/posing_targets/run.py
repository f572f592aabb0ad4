"""Six poses that the poser is not told, reached by operator calls from their silhouettes from the side and from above.

    python tests/posing_targets/run.py --out FOLDER [--targets N] [--told]

Prints a line a target: the calls, and by view the area that only pose or target covers, as a share of the target's.
FOLDER/calls.json has the calls of each, operator and arguments, as they can be made again. Fails where a target is not
within three percent in both views. Ten minutes and more on two cores.
"""

from __future__ import annotations

import argparse
import json
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from animal import Animal, make_animal
from eye import Eye
from poser import GOAL, Outcome, make_calls, pose_by_eye
from targets import COUNT, draw_poses
from told import read_calls

from core_calcs.studies.posing import prepare_posing

LINE = "{:>8}  {:>5}  {:>8}  {:>8}  {:>7}  {}"


def main() -> None:
    options = read_options()
    if options.told:
        tell_ceiling(options.targets)
        return
    print(LINE.format("target", "calls", "side", "top", "looks", "within 3 %"))
    animal, reached = make_animal(), 0
    told = {}
    with ProcessPoolExecutor(2) as pool:
        for k, outcome in enumerate(pool.map(partial(find_pose, animal), range(options.targets))):
            within = max(outcome.left.values()) <= GOAL
            reached += within
            shares = [f"{outcome.left[view]:.1%}" for view in ("side", "top")]
            print(LINE.format(k + 1, len(outcome.calls), *shares, outcome.looks, "yes" if within else "no"), flush=True)
            told[f"target {k + 1}"] = {"calls": [asdict(call) for call in outcome.calls], "left": outcome.left}
    options.out.mkdir(parents=True, exist_ok=True)
    (options.out / "calls.json").write_text(json.dumps(told, indent=1), encoding="utf-8")
    print(f"{reached} of {options.targets} within three percent")
    sys.exit(0 if reached == options.targets else 1)


def tell_ceiling(targets: int) -> None:
    """Print how near the calls come with arguments read from the hidden poses."""
    animal = make_animal()
    posing = prepare_posing(animal.skeleton)
    for k, target in enumerate(draw_poses(animal.skeleton)[:targets]):
        calls = read_calls(posing, target)
        left = Eye(animal, target).measure(make_calls(posing, calls))
        print(f"target {k + 1}: {len(calls)} calls, side {left['side']:.1%}, top {left['top']:.1%}", flush=True)


def find_pose(animal: Animal, k: int) -> Outcome:
    """What the poser makes of the k-th target."""
    eye = Eye(animal, draw_poses(animal.skeleton)[k])
    return pose_by_eye(prepare_posing(animal.skeleton), eye, lambda _: None)


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="folder to write the calls to")
    parser.add_argument("--targets", type=int, default=COUNT, help="the first so many")
    parser.add_argument(
        "--told", action="store_true", help="only how near the calls come with arguments read from the poses"
    )
    return parser.parse_args()


if __name__ == "__main__":
    main()
