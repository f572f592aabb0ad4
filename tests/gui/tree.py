"""The Debian trees in which Blender's windows stand: made once, locked while in use, left without processes or mounts.

python3 tests/gui/tree.py      says whether this machine can have them; needs nothing but Python
"""

from __future__ import annotations

import fcntl
import os
import platform
import re
import shutil
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
PACKAGES = (
    "blender xvfb xauth openbox xdotool imagemagick tesseract-ocr tesseract-ocr-eng pngquant "
    "libgl1-mesa-dri libegl1 mesa-vulkan-drivers python3-numpy python3-requests python3-zstandard procps"
)
BRINGS = ("debootstrap", "debian-archive-keyring")
DISK_BYTES = 4_000_000_000


@dataclass(frozen=True)
class Suite:
    """A Debian, the Blender that it is wanted for, and the Python which that Blender runs on."""

    debian: str
    blender: str
    python: str
    packages: str
    folder: Path
    drifts: bool
    """Whether it may be broken today, through no fault of ours."""


SUITES = {
    "4.3": Suite("trixie", "4.3", "3.13", PACKAGES, TOP / ".cache" / "gui", False),
    "5.2": Suite("sid", "5.2", "3.14", f"{PACKAGES} python3-cattr", TOP / ".cache" / "gui-sid", True),
}
"""By Blender's series. trixie is stable; sid drifts, and may hold another Blender tomorrow."""


class LookError(Exception):
    """Something that keeps the window from being looked at."""


class NotHereError(LookError):
    """This machine, or Debian as it is today, cannot have the window: nothing was tried."""


def require_means(tree: Path, suite: Suite) -> None:
    """NotHereError where this machine cannot have the tree; nothing is changed."""
    if sys.platform != "linux" or platform.machine() != "x86_64":
        raise NotHereError("the window is driven on Linux x64 alone: Blender stands in a Debian tree of that kind")
    if os.geteuid():
        raise NotHereError(
            "needs root, to make a small Debian tree and chroot into it: run it as root, or in a container"
        )
    if not Path("/proc/self/mounts").is_file():
        raise NotHereError("needs /proc, to leave nothing running or mounted: mount it first")
    if subprocess.run(["chroot", "/", "true"], capture_output=True, check=False).returncode:
        raise NotHereError("root may not chroot here: run it where CAP_SYS_CHROOT is given")
    if is_made(tree, suite):
        return
    tree.parent.mkdir(parents=True, exist_ok=True)
    if not can_make_devices(tree.parent):
        raise NotHereError(f"{tree.parent}: root may not make devices there (CAP_MKNOD, nodev): give --tree elsewhere")
    if shutil.disk_usage(tree.parent).free < DISK_BYTES:
        raise NotHereError(
            f"{tree.parent}: the tree needs {DISK_BYTES / 1e9:.0f} GB of disk: make room, or give --tree"
        )
    if not shutil.which("debootstrap") and not shutil.which("apt-get"):
        raise NotHereError("needs debootstrap, and there is no apt-get to bring it: install debootstrap")


def can_make_devices(folder: Path) -> bool:
    """As debootstrap will: a null device that can be written."""
    device = folder / f"device-{os.getpid()}"
    try:
        os.mknod(device, 0o666 | stat.S_IFCHR, os.makedev(1, 3))
        device.write_text("x")
    except OSError:
        return False
    finally:
        device.unlink(missing_ok=True)
    return True


def is_made(tree: Path, suite: Suite) -> bool:
    done = tree / "counterpoise-packages"
    return done.is_file() and done.read_text("utf-8") == suite.packages


@contextmanager
def use_tree(tree: Path, suite: Suite) -> Iterator[Path]:
    """The tree with all packages in it, for one run alone; afterwards nothing in it runs or is mounted."""
    require_means(tree, suite)
    with tree.with_name(tree.name + ".lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise LookError(f"{tree} is in use by another run: wait for it, or give --tree") from None
        parts = (tree, tree.with_name(tree.name + ".part"))
        try:
            for place in parts:
                clear(place)
            try:
                make_tree(tree, parts[1], suite)
                require_blender(tree, suite)
            except LookError as error:
                if not suite.drifts:
                    raise
                raise NotHereError(str(error)) from None
            yield tree
        finally:
            for place in parts:
                clear(place)


def make_tree(tree: Path, part: Path, suite: Suite) -> None:
    """Make what is missing; a new tree is made beside and takes its place when it is whole."""
    if is_made(tree, suite):
        return
    bring_debootstrap()
    print(f"making {tree}: Debian {suite.debian} with Blender, 2 GB, some minutes", flush=True)
    place = tree
    if not tree.exists():
        place = part
        shutil.rmtree(part, ignore_errors=True)
        run("debootstrap", "--variant=minbase", suite.debian, str(part), find_mirror())
    shutil.copy("/etc/resolv.conf", place / "etc" / "resolv.conf")
    apt = ["env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-qq", "-o", "Acquire::Check-Valid-Until=false"]
    inside(place, *apt, "update")
    inside(place, *apt, "install", "-y", "--no-install-recommends", *suite.packages.split())
    inside(place, "apt-get", "clean")
    (place / "counterpoise-packages").write_text(suite.packages, "utf-8")
    if place is part:
        part.rename(tree)


def require_blender(tree: Path, suite: Suite) -> None:
    """NotHereError where the tree holds another Blender than it is wanted for, or one on another Python."""
    ask = "import sys, bpy; print('it is', *bpy.app.version[:2], *sys.version_info[:2])"
    code, said = run_alone(chroot(tree, "blender", "--background", "--python-expr", ask), subprocess.PIPE)
    found = re.search(r"^it is (\d+) (\d+) (\d+) (\d+)$", said, re.M)
    if code or not found:
        raise LookError(f"{tree}: Blender does not start there:\n{said[-1000:]}")
    blender, python = f"{found[1]}.{found[2]}", f"{found[3]}.{found[4]}"
    if (blender, python) != (suite.blender, suite.python):
        raise NotHereError(
            f"Debian {suite.debian} has Blender {blender} on Python {python} today, not {suite.blender}"
            f" on {suite.python}"
        )


def bring_debootstrap() -> None:
    if shutil.which("debootstrap"):
        return
    print(f"installing {' '.join(BRINGS)} by apt-get", flush=True)
    run("apt-get", "-qq", "update")
    run("env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-qq", "install", "-y", "--no-install-recommends", *BRINGS)


def find_mirror() -> str:
    """The mirror that apt uses here, else Debian's own."""
    for path in (Path("/etc/apt/sources.list.d/debian.sources"), Path("/etc/apt/sources.list")):
        if path.is_file() and (
            found := re.search(r"^(?:URIs:|deb .*?)\s*(https?://\S*debian\S*)", path.read_text(), re.M)
        ):
            return found[1]
    return "http://deb.debian.org/debian"


def clear(tree: Path) -> None:
    """End what runs with the tree as its root, and take mounts in it away."""
    for number in (signal.SIGTERM, signal.SIGKILL):
        until = time.monotonic() + 5
        while (left := find_processes(tree)) and time.monotonic() < until:
            for process in left:
                with suppress(ProcessLookupError):
                    os.kill(process, number)
            time.sleep(0.2)
    mounts = [line.split()[1] for line in Path("/proc/self/mounts").read_text("utf-8").splitlines()]
    for mount in reversed(mounts):
        if Path(mount).is_relative_to(tree):
            run("umount", mount)


def find_processes(tree: Path) -> list[int]:
    """Numbers of the processes whose root is the tree."""
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):  # it has ended meanwhile
            if (process / "root").readlink() == tree:
                found.append(int(process.name))
    return found


def inside(tree: Path, *command: str) -> None:
    run(*chroot(tree, *command))


def chroot(tree: Path, *command: str) -> list[str]:
    clean = ["env", "-i", "PATH=/usr/local/bin:/usr/bin:/bin:/usr/sbin:/sbin", "HOME=/root", "LANG=C.UTF-8"]
    return ["chroot", str(tree), *clean, "LIBGL_ALWAYS_SOFTWARE=1", "OMP_THREAD_LIMIT=1", *command]


def run(*command: str) -> None:
    """Run to the end; LookError with its last words where it fails."""
    code, said = run_alone(command, subprocess.PIPE)
    if code:
        raise LookError(f"{' '.join(command[:12])} ended with {code}:\n{said[-2000:]}")


def run_alone(command: Sequence[str], output: int | None = None) -> tuple[int, str]:
    """Exit code and output of a program in a session of its own: Ctrl C reaches us alone, and we end all of it."""
    process = subprocess.Popen(
        command,
        stdin=subprocess.DEVNULL,
        stdout=output,
        stderr=output and subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )
    try:
        said, _ = process.communicate()
    except BaseException:
        for number in (signal.SIGTERM, signal.SIGKILL):
            with suppress(ProcessLookupError, subprocess.TimeoutExpired):
                os.killpg(process.pid, number)
                process.wait(5)
        raise
    return process.returncode, said or ""


def main() -> int:
    try:
        suite = next(iter(SUITES.values()))
        require_means(suite.folder, suite)
    except LookError as error:
        print(f"no window here: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
