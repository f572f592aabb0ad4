"""Build the Blender extension: stage its files, fetch the wheels it carries, zip it, validate the zip.

    python build_extension.py                        the zip for this computer's kind, in dist/
    python build_extension.py --platform windows-x64 (or all)
    python build_extension.py --python 3.14 --test-only
                                                     a zip to try a Blender with another Python: newest wheels from the
                                                     package index, no hashes, marked in its name and never handed on
    python build_extension.py stage                  only dist/stage/counterpoise, without wheels

Needs Python 3.11 or newer with pip, nothing else. Wheels are kept in .cache/wheels; each one's SHA-256 must be among
those of requirements/wheels.txt. The same sources and wheels give the same zip, byte for byte. The docs go in as HTML.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib.util
import platform
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

TOP = Path(__file__).resolve().parent
STAGE = TOP / "dist" / "stage" / "counterpoise"
STAGE_TEST_ONLY = TOP / "dist" / "stage-test-only" / "counterpoise"
WHEELS = TOP / ".cache" / "wheels"
PINS = TOP / "requirements" / "wheels.txt"
PAGE_PINS = TOP / "requirements" / "pages.txt"

PYTHONS = ("3.11", "3.13")
"""The Pythons of the Blenders supported: 4.3 to 5.0 run on 3.11 (Debian's 4.3 on 3.13), 5.1 and newer on 3.13."""

PLATFORMS = {
    "linux-x64": (*(f"manylinux_2_{n}_x86_64" for n in (28, 27, 24, 17, 12, 5)), "manylinux2014_x86_64"),
    "windows-x64": ("win_amd64",),
    "macos-arm64": ("macosx_12_0_arm64", "macosx_11_0_arm64", "macosx_11_0_universal2", "macosx_10_13_universal2"),
}
"""pip's names for what each of Blender's platforms can load (Blender needs glibc 2.28, macOS 11.2 or newer)."""


STORED = (".whl", ".png", ".jpg")
"""Compressed already."""


class BuildError(Exception):
    """Something that keeps the zip from being built."""


def this_platform() -> str:
    """Blender's name for the computer this runs on."""
    system = {"Linux": "linux", "Windows": "windows", "Darwin": "macos"}.get(platform.system(), platform.system())
    machine = {"x86_64": "x64", "AMD64": "x64", "aarch64": "arm64"}.get(platform.machine(), platform.machine())
    return f"{system.lower()}-{machine}"


def read_version() -> str:
    """The one version: that of the calculation core."""
    found = re.search(r'^__version__ = "([^"]+)"', (TOP / "core_calcs" / "__init__.py").read_text("utf-8"), re.M)
    if not found:
        raise BuildError("core_calcs/__init__.py names no __version__")
    return found[1]


def read_pins(path: Path = PINS) -> dict[str, tuple[str, set[str]]]:
    """Of requirements/wheels.txt, or such a file: version and the SHA-256 allowed, by normalised project name."""
    pins: dict[str, tuple[str, set[str]]] = {}
    name = ""
    for line in path.read_text("utf-8").splitlines():
        if pin := re.match(r"([A-Za-z0-9._-]+)==(\S+)", line):
            name = normalise(pin[1])
            pins[name] = (pin[2], set())
        elif name and (digest := re.search(r"--hash=sha256:([0-9a-f]{64})", line)):
            pins[name][1].add(digest[1])
    return pins


def normalise(name: str) -> str:
    """A project's name as PEP 503 compares it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def stage(wheels: list[Path], platforms: list[str], folder: Path = STAGE) -> Path:
    """Write the extension's folder: the add-on's files, the core inside it, the manifest filled in."""
    if folder.exists():
        shutil.rmtree(folder)
    leave_out = shutil.ignore_patterns("__pycache__", "*.pyc", ".*")
    shutil.copytree(TOP / "addon", folder, ignore=leave_out)
    shutil.copytree(TOP / "core_calcs", folder / "core_calcs", ignore=leave_out)
    shutil.copy2(TOP / "LICENSE", folder / "LICENSE")
    manifest = folder / "blender_manifest.toml"
    manifest.write_text(fill_manifest(manifest.read_text("utf-8"), wheels, platforms), "utf-8", newline="\n")
    tomllib.loads(manifest.read_text("utf-8"))
    if wheels:
        (folder / "wheels").mkdir()
        for wheel in wheels:
            shutil.copy2(wheel, folder / "wheels" / wheel.name)
    return folder


def mark_test_only(manifest: Path, python: str) -> None:
    """Say in the manifest's name and tagline what the zip is, so that nobody takes it for the real one."""
    text = manifest.read_text("utf-8")
    text, names = re.subn(r'^name = "(.*)"$', rf'name = "\1 (test only, Python {python})"', text, flags=re.M)
    text, lines = re.subn(
        r"^tagline = .*$", f'tagline = "Test only, for Python {python}: not to be handed on"', text, flags=re.M
    )
    if (names, lines) != (1, 1):
        raise BuildError(f"{manifest} must hold one name and one tagline")
    manifest.write_text(text, "utf-8", newline="\n")


def fill_manifest(source: str, wheels: list[Path], platforms: list[str]) -> str:
    """The manifest with the version, platforms and wheels that only the build knows."""
    lines = [f'version = "{read_version()}"']
    if platforms:
        lines.append("platforms = [{}]".format(", ".join(f'"{name}"' for name in platforms)))
    if wheels:
        lines += ["wheels = [", *(f'  "./wheels/{wheel.name}",' for wheel in wheels), "]"]
    mark = "# build_extension.py puts version, platforms and wheels here.\n"
    if source.count(mark) != 1:
        raise BuildError(f"addon/blender_manifest.toml must hold this line once: {mark.strip()}")
    return source.replace(mark, "\n".join(lines) + "\n")


def fetch_wheels(platform_name: str) -> list[Path]:
    """The wheels for every Python on one platform, from .cache/wheels or the package index, hashes checked."""
    folder = WHEELS / platform_name
    folder.mkdir(parents=True, exist_ok=True)
    pins = read_pins()
    kept: set[Path] = set()
    for python in PYTHONS:
        found = find_wheels(folder, pins, python)
        if set(found) != set(pins):
            download(folder, platform_name, python)
            found = find_wheels(folder, pins, python)
        if missing := sorted(set(pins) - set(found)):
            raise BuildError(f"no wheel for Python {python} on {platform_name} of: {', '.join(missing)}")
        kept.update(found.values())
    return sorted(kept, key=lambda wheel: wheel.name)


def fetch_test_wheels(platform_name: str, python: str) -> list[Path]:
    """Wheels for a Python that the pins do not reach: the pinned version or a newer one, hashes not checked."""
    folder = WHEELS / f"{platform_name}-test-{python}"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    pins = read_pins()
    wanted = [f"{name}>={version}" for name, (version, _) in pins.items()]
    run_pip(folder, platform_name, python, wanted)
    wheels = sorted(folder.glob("*.whl"))
    if missing := sorted(set(pins) - {normalise(wheel.name.split("-")[0]) for wheel in wheels}):
        raise BuildError(f"no wheel for Python {python} on {platform_name} of: {', '.join(missing)}")
    return wheels


def find_wheels(folder: Path, pins: dict[str, tuple[str, set[str]]], python: str) -> dict[str, Path]:
    """Of the wheels in a folder, those of the pinned versions that this Python loads; a bad hash is an error."""
    tag = "cp" + python.replace(".", "")
    found: dict[str, Path] = {}
    for wheel in sorted(folder.glob("*.whl")):
        name, version, *_, python_tag, abi_tag, _ = wheel.stem.split("-")
        pin = pins.get(normalise(name))
        loads = (python_tag == tag and abi_tag in (tag, "abi3")) or "py3" in python_tag.split(".") or abi_tag == "abi3"
        if pin is None or version != pin[0] or not loads:
            continue
        digest = hashlib.sha256(wheel.read_bytes()).hexdigest()
        if digest not in pin[1]:
            raise BuildError(f"{wheel}: its SHA-256 {digest} is not in requirements/wheels.txt. Delete the file.")
        found[normalise(name)] = wheel
    return found


def download(folder: Path, platform_name: str, python: str) -> None:
    """Let pip fetch the pinned wheels, hashes required."""
    run_pip(folder, platform_name, python, ["--require-hashes", "-r", str(PINS)])


def run_pip(folder: Path, platform_name: str, python: str, wanted: list[str]) -> None:
    """Let pip fetch wheels for another platform and Python than this one."""
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps"]
    command += ["--only-binary=:all:", *wanted, "--dest", str(folder), "--python-version", python]
    command += ["--implementation", "cp"]
    for tag in ("cp" + python.replace(".", ""), "abi3", "none"):
        command += ["--abi", tag]
    for tag in PLATFORMS[platform_name]:
        command += ["--platform", tag]
    if subprocess.run(command, check=False).returncode:
        raise BuildError(f"pip could not fetch the wheels for Python {python} on {platform_name} (see above)")


def write_docs(folder: Path) -> None:
    """The docs as HTML into the staged extension, by markdown-it-py straight from its wheel."""
    wheels = WHEELS / "pages"
    wheels.mkdir(parents=True, exist_ok=True)
    pins, python = read_pins(PAGE_PINS), "{}.{}".format(*sys.version_info)
    if set(find_wheels(wheels, pins, python)) != set(pins):
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps"]
        command += ["--only-binary=:all:", "--require-hashes", "-r", str(PAGE_PINS), "--dest", str(wheels)]
        if subprocess.run(command, check=False).returncode:
            raise BuildError("pip could not fetch what makes the pages of the docs (see above)")
    sys.path[:0] = [str(TOP), *map(str, find_wheels(wheels, pins, python).values())]
    from build_pages import write_pages

    write_pages(TOP / "docs", folder / "docs")


def write_zip(folder: Path, target: Path) -> None:
    """Zip a staged folder in a fixed order with fixed times; wheels are stored as they are."""
    beside = target.with_suffix(".part")
    with zipfile.ZipFile(beside, "w") as out:
        for path in sorted(p for p in folder.rglob("*") if p.is_file()):
            entry = zipfile.ZipInfo(path.relative_to(folder).as_posix(), (1980, 1, 1, 0, 0, 0))
            entry.external_attr = 0o100644 << 16
            entry.compress_type = zipfile.ZIP_STORED if path.suffix in STORED else zipfile.ZIP_DEFLATED
            out.writestr(entry, path.read_bytes())
    beside.replace(target)


def find_validator() -> Path | None:
    """Blender's own extension tool inside the bpy of this Python; None where bpy is not installed."""
    spec = importlib.util.find_spec("bpy")
    if spec is None or spec.origin is None:
        return None
    tools = sorted(Path(spec.origin).parent.glob("*/scripts/addons_core/bl_pkg/cli/blender_ext.py"))
    return tools[-1] if tools else None


def validate(target: Path) -> bool:
    """Let Blender's tool check the zip; False where there is no bpy to ask."""
    tool = find_validator()
    if tool is None:
        return False
    if subprocess.run([sys.executable, str(tool), "validate", str(target)], check=False).returncode:
        raise BuildError(f"{target} is not a valid extension (see above)")
    return True


def build(platform_name: str, target: Path | None = None, test_python: str = "") -> Path:
    """Stage, zip and validate the extension for one platform; returns the zip."""
    wheels = fetch_test_wheels(platform_name, test_python) if test_python else fetch_wheels(platform_name)
    folder = stage(wheels, [platform_name], STAGE_TEST_ONLY if test_python else STAGE)
    write_docs(folder)
    mark = ""
    if test_python:
        mark_test_only(folder / "blender_manifest.toml", test_python)
        mark = f"-test-only-python-{test_python}"
    target = target or TOP / "dist" / f"counterpoise-{read_version()}-{platform_name}{mark}.zip"
    target.parent.mkdir(parents=True, exist_ok=True)
    write_zip(folder, target)
    validated = "validated by Blender's tool" if validate(target) else "not validated: this Python has no bpy"
    print(f"{target}: {target.stat().st_size / 1e6:.0f} MB, {len(wheels)} wheels, {validated}")
    return target


def read_options(arguments: list[str] | None = None) -> argparse.Namespace:
    """The command line's options; wrong ones end the program with a sentence."""
    parser = argparse.ArgumentParser(description="Build the Blender extension.")
    parser.add_argument("step", nargs="?", choices=("build", "stage"), default="build")
    parser.add_argument("--platform", choices=[*sorted(PLATFORMS), "all"], help="default: this computer's")
    parser.add_argument("--out", type=Path, help="the zip's path; default: dist/counterpoise-VERSION-PLATFORM.zip")
    parser.add_argument("--python", help="with --test-only: the Python that the zip is for, such as 3.14")
    parser.add_argument("--test-only", action="store_true", help="a zip for one other Python, marked as such")
    given = parser.parse_args(arguments)
    if given.test_only != bool(given.python):
        parser.error(
            "--python and --test-only go together: zips to hand on always hold wheels for " + ", ".join(PYTHONS)
        )
    if given.python and not re.fullmatch(r"3\.\d+", given.python):
        parser.error(f"--python {given.python}: write it as 3.14")
    if given.out and given.platform == "all":
        parser.error("--out names one zip: leave it out with --platform all")
    return given


def main() -> int:
    """The command line."""
    given = read_options()
    try:
        if given.step == "stage":
            print(stage([], []).relative_to(TOP))
            return 0
        names = sorted(PLATFORMS) if given.platform == "all" else [given.platform or this_platform()]
        for name in names:
            if name not in PLATFORMS:
                raise BuildError(f"{name} is not supported; choose one with --platform: {', '.join(sorted(PLATFORMS))}")
            build(name, given.out, given.python or "")
    except BuildError as error:
        print(f"build_extension: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
