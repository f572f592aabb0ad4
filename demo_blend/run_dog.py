"""The whole way on the bones of a dog: table, document, figures, a posed .blend, a picture, a hand-over.

    python demo_blend/run_dog.py --bones FOLDER --out FOLDER --blender PYTHON --zip ZIP

The first half is the command line, without Blender. The second half runs in a Python that holds Blender's module (bpy)
and nothing of ours but the zip, which it installs: see dog_in_blender.py.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

from blender_run import run_in_blender
from poses_table import show_poses


def main() -> None:
    options = read_options()
    out = options.out.resolve()
    shutil.rmtree(out, ignore_errors=True)
    out.mkdir(parents=True)
    begun = time.monotonic()
    bones, table, document = options.bones.resolve(), out / "elements.csv", out / "dog.json"
    counterpoise("survey", bones, "--unit", "m", "--table", table)
    counterpoise("articulate", table, "--meshes", bones, "--document", document, "--name", "dog")
    counterpoise("assess", document)
    print("\nIn Blender: install the zip, pose, save, render, hand over", flush=True)
    run_in_blender(options.blender, out, "dog_in_blender.py", options.zip.resolve(), document)
    show_poses(out / "hand-over" / "poses.csv")
    print(f"\nDone in {time.monotonic() - begun:.0f} s. In {out}:")
    for name in ("elements.csv", "dog.json", "dog.blend", "dog.png", "hand-over"):
        print(f"  {name}")
    print("Begin with hand-over/README.txt and the report.html of a pose.")


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--bones", type=Path, required=True, help="folder of BONE*.stl")
    parser.add_argument("--out", type=Path, required=True, help="folder to fill; what it held is removed")
    parser.add_argument("--blender", type=Path, required=True, help="a Python that holds bpy")
    parser.add_argument("--zip", type=Path, required=True, help="the built extension")
    return parser.parse_args()


def counterpoise(*arguments: object) -> None:
    """Run one command of the command line, showing it."""
    shown = " ".join(os.path.relpath(a) if isinstance(a, Path) else str(a) for a in arguments)
    print(f"\n$ counterpoise {shown}", flush=True)
    # Fed with nothing that was found before: the demo goes the whole way.
    environment = {**os.environ, "COUNTERPOISE_CACHE": "off"}
    subprocess.run([sys.executable, "-m", "core_calcs", *map(str, arguments)], check=True, env=environment)


if __name__ == "__main__":
    main()
