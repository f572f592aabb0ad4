"""The quay strider, an animal that never lived: made, brought into Blender, posed, handed over, rendered.

    python demo_blend/run_strider.py --out FOLDER --blender PYTHON --zip ZIP

It goes the whole way in Blender: the installed add-on reads the scans by their table, finds the joints of column and
limbs and builds the rig, audits how the bones were mounted and puts right what it finds wrong (strider_in_blender.py).
"""

from __future__ import annotations

import argparse
import shutil
import time
from pathlib import Path

from blender_run import run_in_blender
from make_strider import write_strider
from poses_table import show_poses

LEFT = {
    "strider.blend": "rig, elements and poses; with the add-on installed the figures stand beside them",
    "hand-over": "for the other trades: begin with README.txt and running/report.html; what was put right: ranges",
    "standing.png …": "a picture of each pose: what it stands on, and where its weight comes down",
    "strider.json": "the skeleton document",
    "scans": "the elements as mesh files, with elements.csv and what is known of them, expected.json",
}


def main() -> None:
    options = read_options()
    out = options.out.resolve()
    shutil.rmtree(out, ignore_errors=True)
    out.mkdir(parents=True)
    begun = time.monotonic()
    print("The quay strider: an invented animal, its scans made here, then through the add-on in Blender", flush=True)
    rows = write_strider(out, options.seed, 1.0, mounted=True)
    print(f"  {time.monotonic() - begun:6.1f} s  {len(rows)} elements made, three mounted wrongly", flush=True)
    run_in_blender(options.blender, out, "strider_in_blender.py", options.zip.resolve(), out)
    show_poses(out / "hand-over" / "poses.csv")
    print(f"\nDone in {time.monotonic() - begun:.0f} s. In {options.out}:")
    width = max(map(len, LEFT))
    for name, what in LEFT.items():
        print(f"  {name:<{width}}  {what}")


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="folder to fill; what it held is removed")
    parser.add_argument("--seed", type=int, default=1, help="another number makes another animal's unevenness")
    parser.add_argument("--blender", type=Path, required=True, help="a Python that holds bpy")
    parser.add_argument("--zip", type=Path, required=True, help="the built extension")
    return parser.parse_args()


if __name__ == "__main__":
    main()
