"""The whole way on the bones of a dog: table, document, figures, a posed .blend, a picture, a hand-over.

    python demo_blend/run_dog.py --bones FOLDER --out FOLDER --blender PYTHON --zip ZIP

The first half is the command line, without Blender. The second half runs in a Python that holds Blender's module (bpy)
and nothing of ours but the zip, which it installs: see dog_in_blender.py.
"""

from __future__ import annotations

import argparse
import csv
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).parent


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
    subprocess.run([sys.executable, "-m", "core_calcs", *map(str, arguments)], check=True)


def run_in_blender(blender: Path, out: Path, script: str, *arguments: Path) -> None:
    """Run a script with the installed add-on, in a Python of its own and with Blender settings of its own.

    The script is given the arguments and then `out`.
    """
    print("\nIn Blender: install the zip, pose, save, render, hand over", flush=True)
    settings = out / "blender-settings"
    environment = {**os.environ, "BLENDER_USER_RESOURCES": str(settings)}
    # All cores for the picture; a venv's own python, not the resolved link.
    environment.pop("OMP_NUM_THREADS", None)
    command = [str(blender.absolute()), str(HERE / script), *map(str, arguments), str(out)]
    with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True, encoding="utf-8") as running:
        for line in running.stdout:
            # The renderer reports every sample.
            if not line.startswith("Fra:"):
                print(line, end="", flush=True)
    if running.returncode:
        sys.exit(f"Blender stopped with {running.returncode}")
    shutil.rmtree(settings, ignore_errors=True)


def show_poses(path: Path) -> None:
    """Print the table that compares the poses, one pose a column."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    print()
    width = max(len(name) for name in rows[0])
    for name, *values in zip(*rows, strict=True):
        print(f"{name:<{width}}  " + "  ".join(f"{shorten(value):>14}" for value in values))


def shorten(value: str) -> str:
    """A number with five significant digits, anything else as it is."""
    try:
        return f"{float(value):.5g}"
    except ValueError:
        return value


if __name__ == "__main__":
    main()
