"""The quay strider, an animal that never lived: made, brought into Blender, posed, rendered, handed over.

    python demo_blend/run_strider.py --out FOLDER --blender PYTHON --zip ZIP

It goes the whole way in Blender: the installed add-on reads the scans by their table, finds the joints and builds the
rig (strider_in_blender.py).
"""

from __future__ import annotations

import argparse
import shutil
import time
from pathlib import Path

from make_strider import write_strider
from run_dog import run_in_blender, show_poses


def main() -> None:
    options = read_options()
    out = options.out.resolve()
    shutil.rmtree(out, ignore_errors=True)
    out.mkdir(parents=True)
    begun = time.monotonic()
    print("Making the scans", flush=True)
    rows = write_strider(out, options.seed, 1.0)
    print(f"{len(rows)} elements after {time.monotonic() - begun:.0f} s")
    run_in_blender(options.blender, out, "strider_in_blender.py", options.zip.resolve(), out)
    show_poses(out / "hand-over" / "poses.csv")
    print(f"\nDone in {time.monotonic() - begun:.0f} s. In {out}:")
    for name in ("scans", "elements.csv", "expected.json", "strider.json", "strider.blend", "hand-over"):
        print(f"  {name}")
    print("Pictures: standing.png, stooping.png, running.png. Running fails: it would tip.")


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="folder to fill; what it held is removed")
    parser.add_argument("--seed", type=int, default=1, help="another number makes another animal's unevenness")
    parser.add_argument("--blender", type=Path, required=True, help="a Python that holds bpy")
    parser.add_argument("--zip", type=Path, required=True, help="the built extension")
    return parser.parse_args()


if __name__ == "__main__":
    main()
