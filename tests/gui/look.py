"""Open a full Blender window on a virtual screen, use the add-on by mouse and keys, keep a picture of every step.

    python tests/gui/look.py --zip dist/….zip                       a small made-up animal, some minutes
    python tests/gui/look.py --zip dist/….zip --bones .cache/dog    the dog

Needs root and debootstrap: Blender and the virtual screen stand in a Debian tree of their own (.cache/gui, about 2 GB,
made once). Pictures and steps.json go to build/gui. In the tree runs drive.py; reporter.py runs in its Blender.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

from animal import write_animal

HERE = Path(__file__).resolve().parent
TOP = HERE.parents[1]
SUITE = "trixie"
PACKAGES = (
    "blender xvfb xauth xdotool imagemagick tesseract-ocr tesseract-ocr-eng pngquant "
    "libgl1-mesa-dri libegl1 mesa-vulkan-drivers python3-numpy python3-requests python3-zstandard procps"
)
SCREEN = "-screen 0 1600x1000x24 -nolisten tcp"
PICTURE_BYTES = 250_000


class LookError(Exception):
    """Something that keeps the window from being looked at."""


def main() -> int:
    given = read_options()
    try:
        require_means()
        tree = make_tree(given.tree.resolve())
        plan = lay_out(tree, given.zip, given.bones)
        install(tree, given.zip.name)
        code = drive(tree)
        keep_pictures(tree, given.out)
    except (LookError, OSError) as error:
        print(f"look: {error}", file=sys.stderr)
        return 1
    if not code:
        print(f"{plan['elements']} elements from import to hand-over by mouse and keys; pictures in {given.out}")
    return code


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--zip", type=Path, required=True, help="the built extension for Linux")
    parser.add_argument("--bones", type=Path, help="the dog's bones; without it a made-up animal")
    parser.add_argument(
        "--tree", type=Path, default=TOP / ".cache" / "gui", help="the Debian tree, made if it is not there"
    )
    parser.add_argument("--out", type=Path, default=TOP / "build" / "gui", help="folder for the pictures")
    return parser.parse_args()


def require_means() -> None:
    if not hasattr(os, "geteuid") or os.geteuid():
        raise LookError("a Blender window on a virtual screen needs Linux and root (chroot into a small Debian tree)")
    if shutil.which("debootstrap") is None:
        raise LookError("debootstrap is not installed: apt-get install debootstrap")


def make_tree(tree: Path) -> Path:
    """The Debian tree with all packages in it; made where it is not whole."""
    done = tree / "counterpoise-packages"
    if done.is_file() and done.read_text("utf-8") == PACKAGES:
        return tree
    print(f"making {tree}: Debian {SUITE} with Blender, a minute or a few", flush=True)
    if not (tree / "usr" / "bin" / "apt-get").exists():
        run("debootstrap", "--variant=minbase", SUITE, str(tree), find_mirror())
    shutil.copy("/etc/resolv.conf", tree / "etc" / "resolv.conf")
    quiet = ["env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-qq", "-o", "Acquire::Check-Valid-Until=false"]
    inside(tree, *quiet, "update")
    inside(tree, *quiet, "install", "-y", "--no-install-recommends", *PACKAGES.split())
    inside(tree, "apt-get", "clean")
    done.write_text(PACKAGES, "utf-8")
    return tree


def find_mirror() -> str:
    """The mirror that apt uses here, else Debian's own."""
    for path in (Path("/etc/apt/sources.list.d/debian.sources"), Path("/etc/apt/sources.list")):
        if path.is_file() and (
            found := re.search(r"^(?:URIs:|deb .*?)\s*(https?://\S*debian\S*)", path.read_text(), re.M)
        ):
            return found[1]
    return "http://deb.debian.org/debian"


def lay_out(tree: Path, extension: Path, bones: Path | None) -> dict:
    """A fresh working folder in the tree: scripts, zip, scans, the plan of the drive."""
    look = tree / "look"
    shutil.rmtree(look, ignore_errors=True)
    shutil.rmtree(tree / "root" / ".config" / "blender", ignore_errors=True)  # a Blender that nobody has used
    (look / "out").mkdir(parents=True)
    for name in ("drive.py", "window.py", "reporter.py"):
        shutil.copy(HERE / name, look)
    shutil.copy(extension, look)
    plan = {"scans": "/look/scans", "table": "/look/elements.csv", "handover": "/look/hand-over", "out": "/look/out"}
    if bones is None:
        plan |= {"unit": "cm", "unit_label": "Centimetre", "elements": write_animal(look / "scans")}
        plan |= {"bones": ["L4"], "degrees": 5, "pose": "bent"}
    else:
        shutil.copytree(bones, look / "scans", ignore=lambda _, names: [n for n in names if not n.endswith(".stl")])
        plan |= {"unit": "m", "unit_label": "Metre", "elements": 232}
        plan |= {"bones": ["C5", "C6"], "degrees": 8, "pose": "sniffing"}
    (look / "plan.json").write_text(json.dumps(plan), "utf-8")
    return plan


def install(tree: Path, name: str) -> None:
    """By Blender's own installer, as Install from Disk does it."""
    inside(tree, "blender", "--command", "extension", "install-file", "-r", "user_default", "--enable", f"/look/{name}")


def drive(tree: Path) -> int:
    done = subprocess.run(
        chroot(tree, "xvfb-run", "-a", "-s", SCREEN, "python3", "/look/drive.py", "/look/plan.json"), check=False
    )
    return done.returncode


def keep_pictures(tree: Path, out: Path) -> None:
    """Copy what the drive left, pictures in few colours."""
    shutil.rmtree(out, ignore_errors=True)
    inside(tree, "sh", "-c", "cd /look/out && pngquant --force --ext .png --speed 3 128 [0-9s]*.png")
    shutil.copytree(tree / "look" / "out", out, ignore=shutil.ignore_patterns("reading.png", "state.*"))
    for path in out.glob("*.png"):
        if path.stat().st_size > PICTURE_BYTES:
            print(f"{path.name}: {path.stat().st_size} bytes, more than {PICTURE_BYTES}")


def chroot(tree: Path, *command: str) -> list[str]:
    clean = ["env", "-i", "PATH=/usr/local/bin:/usr/bin:/bin:/usr/sbin:/sbin", "HOME=/root", "LANG=C.UTF-8"]
    return ["chroot", str(tree), *clean, "LIBGL_ALWAYS_SOFTWARE=1", *command]


def inside(tree: Path, *command: str) -> None:
    run(*chroot(tree, *command))


def run(*command: str) -> None:
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False)
    if done.returncode:
        raise LookError(f"{' '.join(command[:12])} ended with {done.returncode}:\n{done.stdout[-2000:]}")


if __name__ == "__main__":
    sys.exit(main())
