"""The window in every Blender that there is a tree for, one after the other; says of each what was tried, and what not.

    python tests/gui/blenders.py --zip dist/….zip

The tutorial, or with --whole every step that is known; for 5.2 with a zip of its own for trying, which is built here. A
Blender whose tree, libraries or version cannot be had is told as NOT tried and not counted as passed; what was tried
decides the exit code.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from pathlib import Path

from look import NOT_HERE
from tree import SUITES, TOP, Suite

HERE = Path(__file__).resolve().parent
SERIES = ("4.3", "5.2")


def main() -> int:
    given = read_options()
    trees = {"4.3": given.tree, "5.2": given.second_tree}
    told, failed = [], False
    given.out.mkdir(parents=True, exist_ok=True)
    journey = "made-up" if given.whole else "tutorial"
    for series in given.blender or SERIES:
        begun = time.monotonic()
        code, reason = try_window(SUITES[series], given.zip, trees[series], given.out / series, journey)
        minutes = (time.monotonic() - begun) / 60
        verdict = {0: f"passed in {minutes:.1f} min", NOT_HERE: f"NOT tried: {reason}"}.get(code, "FAILED, see above")
        told.append(f"Blender {series}, {journey}: {verdict}")
        failed |= code not in (0, NOT_HERE)
    print("\n".join(("", *told)), flush=True)
    (given.out / "told.txt").write_text("\n".join((*told, "")), "utf-8")
    return int(failed)


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--zip", type=Path, required=True, help="the built extension for Linux")
    parser.add_argument("--blender", action="append", choices=SERIES, help="this one alone; may be repeated")
    parser.add_argument("--whole", action="store_true", help="more than the tutorial: every step that is known")
    parser.add_argument("--tree", type=Path, default=SUITES["4.3"].folder, help="Debian tree of 4.3")
    parser.add_argument("--second-tree", type=Path, default=SUITES["5.2"].folder, help="Debian tree of 5.2")
    parser.add_argument("--out", type=Path, default=TOP / "build" / "gui", help="folder for the pictures")
    return parser.parse_args()


def try_window(suite: Suite, zipped: Path, tree: Path, out: Path, journey: str) -> tuple[int, str]:
    """Exit code of a journey through one Blender's window, and the reason where it could not be had."""
    if suite.blender != "4.3":
        zipped, reason = build_zip(suite)
        if reason:
            return NOT_HERE, reason
    command = [sys.executable, str(HERE / "look.py"), "--blender", suite.blender, "--zip", str(zipped)]
    command += ["--tree", str(tree), "--journey", journey, "--out", str(out)]
    process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    try:
        said = []
        for line in process.stderr:
            print(line, end="", file=sys.stderr, flush=True)
            said.append(line)
        return process.wait(), "".join(said[-1:]).strip()
    except KeyboardInterrupt:
        process.wait()
        raise


def build_zip(suite: Suite) -> tuple[Path, str]:
    """A zip for a Python that the real one does not reach; the reason where its libraries cannot be had."""
    zipped = TOP / "dist" / f"counterpoise-linux-x64-test-only-python-{suite.python}.zip"
    command = [sys.executable, str(TOP / "build_extension.py"), "--platform", "linux-x64", "--out", str(zipped)]
    done = subprocess.run(
        [*command, "--python", suite.python, "--test-only"], capture_output=True, text=True, check=False
    )
    print(done.stdout, end="", flush=True)
    return zipped, "" if done.returncode == 0 else done.stderr.strip().splitlines()[-1]


if __name__ == "__main__":
    sys.exit(main())
