"""The pictures of README and docs, cut from what the window's journeys and the demo have left.

    python tests/gui/pictures.py --looks build/pictures --demo build/demo

`make pictures` runs the journeys and then this. A picture that was not taken, or a README that shows another table than
the demo has left, is told and fails.
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import sys
from pathlib import Path

from PIL import Image

TOP = Path(__file__).resolve().parents[2]
DOCS = TOP / "docs" / "pictures"
sys.path.insert(0, str(TOP / "demo_blend"))
from poses_table import list_lines  # noqa: E402

Box = tuple[int, int, int, int]
"""Left, top, right, bottom [px of the screen]."""

WHOLE: Box = (0, 0, 1600, 1000)
PANELS: Box = (600, 28, 1600, 1000)

CUTS: dict[str, tuple[str, str, Box]] = {
    "blender": ("demo", "running", WHOLE),
    "begin": ("made-up", "neck", WHOLE),
    "tour-install": ("dog", "install", (0, 0, 1106, 648)),
    "tour-tab": ("dog", "tab", (600, 28, 1600, 860)),
    "tour-survey": ("dog", "survey", PANELS),
    "tour-running": ("dog", "running", (600, 28, 1600, 448)),
    "tour-skeleton": ("dog", "skeleton", WHOLE),
    "tour-audit": ("made-up", "audit", (430, 28, 1600, 1000)),
    "tour-put-right": ("made-up", "put-right", (920, 28, 1600, 1000)),
    "tour-records": ("made-up", "records", (1150, 28, 1600, 1000)),
    "tour-mounted": ("made-up", "mounted", (430, 28, 1600, 1000)),
    "tour-assembly": ("made-up", "assemble", (960, 28, 1600, 860)),
    "tour-missing": ("made-up", "add-bone", (960, 28, 1600, 860)),
    "tour-pose": ("dog", "pose", WHOLE),
    "tour-saved": ("dog", "saved", WHOLE),
    "tour-hand-over": ("dog", "hand-over", WHOLE),
    "tour-castings": ("demo", "castings", PANELS),
    "contacts": ("demo", "contacts", PANELS),
    "balance": ("demo", "balance", (430, 28, 1600, 1000)),
    "side-by-side": ("demo", "side-by-side", (625, 600, 1475, 1000)),
    "joint": ("made-up", "joint", (430, 28, 1600, 1000)),
    "ranges": ("made-up", "told", (450, 130, 1600, 1000)),
    "places": ("made-up", "placed", PANELS),
    "mark-facet": ("made-up", "marking", PANELS),
}
"""By the picture's name in docs/pictures: journey, step, what is cut out."""

TUTORIAL: dict[str, Box] = {
    "01-install.png": (0, 0, 1106, 648),
    "02-installed.png": (0, 0, 1106, 648),
    "03-tab.png": (600, 28, 1600, 860),
    "04-survey.png": PANELS,
}
"""What is cut out of pictures of the tutorial; of all others the whole screen is shown."""

POSES = ("standing", "stooping", "running", "resting")
TILE, SEAM_PX = (800, 500), 6


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--looks", type=Path, required=True, help="folder with a folder of pictures for each journey")
    parser.add_argument("--demo", type=Path, required=True, help="what make demo has left")
    given = parser.parse_args()
    wrong = [told for name, cut in CUTS.items() if (told := cut_out(given.looks, name, *cut))]
    wrong += cut_tutorial(given.looks / "tutorial")
    join_poses(given.demo)
    wrong += compare_table(given.demo / "hand-over" / "poses.csv", TOP / "README.md")
    for told in wrong:
        print(f"pictures: {told}", file=sys.stderr)
    print(f"{len(CUTS) + 1} pictures in {DOCS.relative_to(TOP)}" if not wrong else "not all pictures are of today")
    return 1 if wrong else 0


def cut_out(looks: Path, name: str, journey: str, step: str, box: Box) -> str:
    """Write one picture; what is wrong, where it was not taken."""
    left = looks / journey / "steps.json"
    steps = json.loads(left.read_text("utf-8"))["steps"] if left.is_file() else []
    taken = [own["picture"] for own in steps if own["picture"].partition("-")[2] == f"{step}.png"]
    if not taken:
        return f"{name}: the journey {journey} has left no picture of {step}: run tests/gui/look.py anew"
    with Image.open(looks / journey / taken[-1]) as screen:
        screen.crop(box).save(DOCS / f"{name}.png", optimize=True)
    return ""


def cut_tutorial(taken: Path) -> list[str]:
    """Write the pictures that the tutorial's page shows; what is wrong, where one was not taken."""
    shown = re.findall(r"\]\(pictures/tutorial/(\S+)\)", (DOCS.parent / "tutorial.md").read_text("utf-8"))
    shutil.rmtree(DOCS / "tutorial", ignore_errors=True)
    (DOCS / "tutorial").mkdir()
    for name in shown:
        if (taken / name).is_file():
            with Image.open(taken / name) as screen:
                screen.crop(TUTORIAL.get(name, WHOLE)).save(DOCS / "tutorial" / name, optimize=True)
    return [
        f"{name}: the tutorial has left none: run tests/gui/look.py anew"
        for name in shown
        if not (taken / name).is_file()
    ]


def join_poses(demo: Path) -> None:
    """The four poses as one picture, two by two."""
    width, height = TILE
    whole = Image.new("RGB", (2 * width + SEAM_PX, 2 * height + SEAM_PX), "white")
    for i, pose in enumerate(POSES):
        with Image.open(demo / f"{pose}.png") as rendered:
            tile = rendered.convert("RGB").resize(TILE, Image.Resampling.LANCZOS)
        whole.paste(tile, ((i % 2) * (width + SEAM_PX), (i // 2) * (height + SEAM_PX)))
    whole.save(DOCS / "strider-poses.jpg", quality=88, optimize=True)


def compare_table(poses: Path, readme: Path) -> list[str]:
    """The lines of the demo's table that the README does not show."""
    shown = readme.read_text("utf-8").splitlines()
    return [f"{readme.name} does not show the demo's line: {line}" for line in list_lines(poses) if line not in shown]


if __name__ == "__main__":
    sys.exit(main())
