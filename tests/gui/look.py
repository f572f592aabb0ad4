"""Open a full Blender window on a virtual screen, use the add-on by mouse and keys, keep a picture of every step.

    python tests/gui/look.py --zip dist/….zip                       a small made-up animal, some minutes
    python tests/gui/look.py --zip dist/….zip --bones .cache/dog    the dog, as docs/tour.md shows it
    python tests/gui/look.py --zip dist/….zip --demo build/demo     the demo's .blend, as README shows it
    python tests/gui/look.py --blender 5.2 --zip dist/…-test-only-python-3.14.zip …

Needs root: Blender and the virtual screen stand in a Debian tree of their own (.cache/gui, about 2 GB, made once). Ends
with 3, and the reason, where this machine, or Debian as it is today, cannot have that window.
Pictures and steps.json go to build/gui. In the tree runs drive.py; reporter.py runs in its Blender.
"""

from __future__ import annotations

import argparse
import csv
import json
import re
import shutil
import signal
import sys
from pathlib import Path

from animal import TURNED, write_animal
from tree import SUITES, TOP, LookError, NotHereError, chroot, inside, run_alone, use_tree

HERE = Path(__file__).resolve().parent
HOST_SIDE = ("look.py", "tree.py", "animal.py", "pictures.py")
SCREEN = "-screen 0 1600x1000x24 -nolisten tcp -nocursor -fbdir /look/screen"
PICTURE_BYTES = 170_000
NOT_HERE = 3
TUTORIAL = TOP / "docs" / "tutorial.md"


def main() -> int:
    given = read_options()
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # ended from outside: clear up as after Ctrl C
    try:
        if not given.zip.is_file():
            raise LookError(f"{given.zip}: not there: build it with make extension")
        suite = SUITES[given.blender]
        with use_tree((given.tree or suite.folder).resolve(), suite) as tree:
            plan = lay_out(tree, given)
            code = drive(tree)
            keep_pictures(tree, given.out)
    except NotHereError as error:
        print(f"look: no window of Blender {given.blender} here: {error}", file=sys.stderr)
        return NOT_HERE
    except (LookError, OSError) as error:
        print(f"look: {error}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("look: stopped; nothing of it runs any more", file=sys.stderr)
        return 130
    if not code:
        print(f"{plan['journey']}: {plan['elements']} elements by mouse and keys; pictures in {given.out}")
    return code


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--zip", type=Path, required=True, help="the built extension for Linux")
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--bones", type=Path, help="the dog's bones")
    what.add_argument("--demo", type=Path, help="what make demo has left")
    what.add_argument("--journey", choices=("made-up", "tutorial"), default="made-up", help="of the made-up animal")
    parser.add_argument("--blender", choices=sorted(SUITES), default="4.3", help="which Blender's window")
    parser.add_argument("--tree", type=Path, help="its Debian tree, made if it is not there")
    parser.add_argument("--smooth", action="store_true", help="smooth edges, for pictures of the docs")
    parser.add_argument("--out", type=Path, default=TOP / "build" / "gui", help="folder for the pictures")
    return parser.parse_args()


def lay_out(tree: Path, given: argparse.Namespace) -> dict:
    """A fresh working folder in the tree, and a home nobody has used: scripts, zip, scans, the plan of the drive."""
    look, downloads = tree / "look", tree / "root" / "Downloads"
    for used in (look, downloads, tree / "root" / ".config", tree / "tmp"):
        shutil.rmtree(used, ignore_errors=True)
    for folder in (look / "out", look / "screen", downloads, tree / "tmp"):
        folder.mkdir(parents=True)
    for path in HERE.iterdir():
        if path.is_file() and path.name not in HOST_SIDE:
            shutil.copy(path, look)
    shutil.copy(given.zip, downloads)
    plan = {"scans": "/look/scans", "table": "/look/elements.csv", "handover": "/look/hand-over", "out": "/look/out"}
    plan |= {"zip": given.zip.name, "smooth": given.smooth}
    if given.demo:
        plan |= plan_demo(given.demo, downloads)
    elif given.bones:
        plan |= plan_dog(given.bones, look / "scans")
    else:
        plan |= plan_animal(look / "scans") | {"journey": given.journey}
    if plan["journey"] == "tutorial":
        plan["page"] = re.findall(r"\]\(pictures/tutorial/(\S+)\)", TUTORIAL.read_text("utf-8"))
    (look / "plan.json").write_text(json.dumps(plan), "utf-8")
    return plan


def plan_animal(scans: Path) -> dict:
    broken, empty = scans.with_name("broken"), scans.with_name("empty")
    for folder in (broken, empty):
        folder.mkdir()
    (broken / "L1.stl").write_text("ISO-10303-21;\nHEADER;\nENDSEC;\n" + 80 * " ", "utf-8")
    plan = {"unit": "cm", "unit_label": "Centimetre", "elements": write_animal(scans)}
    return (
        plan
        | {
            "bones": ["L4"],
            "degrees": 5,
            "pose": "bent",
            "stands": "as scanned",
            "turned": TURNED,
            "discs": 7,
            "mark": ["Femur.L", "Tibia.L"],
            "follow": ["Humerus.R", "L1"],
        }
        | {
            "broken": "/look/broken",
            "empty": "/look/empty",
        }
    )


def plan_dog(bones: Path, scans: Path) -> dict:
    shutil.copytree(bones, scans, ignore=lambda _, names: [name for name in names if not name.endswith(".stl")])
    plan = {"journey": "dog", "unit": "m", "unit_label": "Metre", "elements": 232}
    return plan | {"bones": ["C5", "C6"], "degrees": 8, "pose": "sniffing"}


def plan_demo(demo: Path, downloads: Path) -> dict:
    """What the panel is to say of the pose that tips: as the hand-over has it."""
    with (demo / "hand-over" / "poses.csv").open(encoding="utf-8", newline="") as file:
        (running,) = [row for row in csv.DictReader(file) if row["pose"] == "running"]
    shutil.copy(demo / "strider.blend", downloads)
    shutil.copytree(demo / "scans", downloads / "scans")
    mass, margin = f"{float(running['mass_kg']):.4g}", f"{1000 * float(running['distance_margin_m']):.0f}"
    elements = len(json.loads((demo / "strider.json").read_text("utf-8"))["skeleton"]["elements"])
    return {"journey": "demo", "stands": "standing", "elements": elements, "figures": {"mass": mass, "margin": margin}}


def drive(tree: Path) -> int:
    """Run drive.py on a screen; its exit code."""
    begin = ("env", "COUNTERPOISE_SCREEN=/look/screen", "xvfb-run", "-a", "-s", SCREEN)
    command = chroot(tree, *begin, "python3", "/look/drive.py", "/look/plan.json")
    return run_alone(command)[0]


def keep_pictures(tree: Path, out: Path) -> None:
    """Copy what the drive left, pictures in few colours."""
    shutil.rmtree(out, ignore_errors=True)
    pictures = [f"/look/out/{path.name}" for path in (tree / "look" / "out").glob("[0-9s]*.png")]
    if pictures:
        inside(tree, "pngquant", "--force", "--ext", ".png", "--speed", "1", "--nofs", "128", *pictures)
    shutil.copytree(tree / "look" / "out", out, ignore=shutil.ignore_patterns("state.*", "browser", "address*"))
    for path in sorted(out.glob("*.png")):
        if path.stat().st_size > PICTURE_BYTES:
            print(f"{path.name}: {path.stat().st_size} bytes, more than {PICTURE_BYTES}")


if __name__ == "__main__":
    sys.exit(main())
