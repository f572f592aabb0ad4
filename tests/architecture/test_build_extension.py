"""The zip's build: hashes are checked, the manifest is filled in, the same sources give the same bytes."""

from __future__ import annotations

import hashlib
import importlib.util
import subprocess
import tomllib
import zipfile
from itertools import pairwise, product
from pathlib import Path
from types import ModuleType

import pytest

TOP = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def builder() -> ModuleType:
    """build_extension.py as a module."""
    spec = importlib.util.spec_from_file_location("build_extension", TOP / "build_extension.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def make_wheels(folder: Path, names: list[str]) -> dict[str, set[str]]:
    """Files that are named like wheels; their SHA-256 by name."""
    folder.mkdir(exist_ok=True)
    for name in names:
        (folder / name).write_bytes(name.encode())
    return {name: {hashlib.sha256(name.encode()).hexdigest()} for name in names}


def test_every_pin_has_hashes(builder: ModuleType) -> None:
    pins = builder.read_pins()
    assert {"scipy", "trimesh", "cattrs", "jinja2", "matplotlib"} <= set(pins)
    assert "numpy" not in pins
    assert all(hashes for _, hashes in pins.values())


@pytest.mark.parametrize(("python", "picked"), [("3.11", "cp311-cp311"), ("3.13", "cp313-cp313")])
def test_each_python_gets_its_own_wheel(builder: ModuleType, tmp_path: Path, python: str, picked: str) -> None:
    ends = ("cp311-cp311-any", "cp313-cp313-any", "cp313-cp313t-any")
    hashes = make_wheels(tmp_path, [f"fast_one-1.0-{end}.whl" for end in ends] + ["plain-2.0-py2.py3-none-any.whl"])
    pins = {"fast-one": ("1.0", set().union(*hashes.values())), "plain": ("2.0", set().union(*hashes.values()))}
    found = builder.find_wheels(tmp_path, pins, python)
    assert set(found) == {"fast-one", "plain"}
    assert picked in found["fast-one"].name


def test_a_wheel_with_another_hash_is_refused(builder: ModuleType, tmp_path: Path) -> None:
    make_wheels(tmp_path, ["plain-2.0-py3-none-any.whl"])
    with pytest.raises(builder.BuildError, match="SHA-256"):
        builder.find_wheels(tmp_path, {"plain": ("2.0", {"0" * 64})}, "3.11")


def test_another_version_is_passed_over(builder: ModuleType, tmp_path: Path) -> None:
    make_wheels(tmp_path, ["plain-1.9-py3-none-any.whl"])
    assert builder.find_wheels(tmp_path, {"plain": ("2.0", {"0" * 64})}, "3.11") == {}


def test_the_same_sources_give_the_same_zip(builder: ModuleType, tmp_path: Path) -> None:
    make_wheels(tmp_path / "wheels", ["plain-2.0-py3-none-any.whl"])
    wheels = [tmp_path / "wheels" / "plain-2.0-py3-none-any.whl"]
    zips = []
    for name in ("one", "two"):
        folder = builder.stage(wheels, ["linux-x64"], tmp_path / name)
        zips.append(tmp_path / f"{name}.zip")
        builder.write_zip(folder, zips[-1])
    assert zips[0].read_bytes() == zips[1].read_bytes()
    with zipfile.ZipFile(zips[0]) as archive:
        names = archive.namelist()
        manifest = tomllib.loads(archive.read("blender_manifest.toml").decode())
    assert manifest["version"] == builder.read_version()
    assert manifest["platforms"] == ["linux-x64"]
    assert manifest["wheels"] == ["./wheels/plain-2.0-py3-none-any.whl"]
    assert {"__init__.py", "LICENSE", "core_calcs/__init__.py", "core_calcs/document/schema.json"} <= set(names)
    assert not [name for name in names if "__pycache__" in name or name.startswith("tests")]


LIBRARIES = ("scipy", "matplotlib", "contourpy", "pillow")
"""Of those in the zip, some that hold machine code."""


@pytest.mark.parametrize(
    ("platform", "tags"),
    [
        ("linux-x64", ("manylinux_2_17_x86_64.manylinux2014_x86_64", "manylinux_2_27_x86_64.manylinux_2_28_x86_64")),
        ("windows-x64", ("win_amd64",)),
        ("macos-arm64", ("macosx_11_0_arm64", "macosx_12_0_arm64")),
    ],
)
def test_each_platform_asks_pip_for_what_it_loads(
    builder: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, platform: str, tags: tuple[str, ...]
) -> None:
    """The index is a list of names here; the tags are those that the pinned libraries' wheels carry on PyPI."""
    index = ["plain-1.0-py3-none-any.whl"]
    for (i, name), python in product(enumerate(LIBRARIES), ("cp311", "cp313")):
        index.append(f"{name}-1.0-{python}-{python}-{tags[i % len(tags)]}.whl")
    hashes = {hashlib.sha256(name.encode()).hexdigest() for name in index}
    monkeypatch.setattr(builder, "WHEELS", tmp_path)
    monkeypatch.setattr(builder, "read_pins", lambda: dict.fromkeys((*LIBRARIES, "plain"), ("1.0", hashes)))
    commands = []

    def run(command: list[str], check: bool) -> subprocess.CompletedProcess[str]:
        """What pip does with such a command: the wheels whose tags were asked for, into the folder."""
        commands.append(command)
        asked = {flag: [b for a, b in pairwise(command) if a == flag] for flag in ("--platform", "--abi", "--dest")}
        for name in index:
            abi, where = name.removesuffix(".whl").split("-")[-2:]
            if abi in asked["--abi"] and (where == "any" or set(where.split(".")) & set(asked["--platform"])):
                Path(asked["--dest"][0], name).write_bytes(name.encode())
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(builder.subprocess, "run", run)
    found = builder.fetch_wheels(platform)
    assert [wheel.name for wheel in found] == sorted(index)
    assert [command[command.index("--python-version") + 1] for command in commands] == ["3.11", "3.13"]
    assert all("--require-hashes" in command for command in commands)


def test_every_pin_has_a_wheel_for_each_platform_and_python(builder: ModuleType) -> None:
    """Each Python and platform needs its own file of each library with machine code: as many hashes at least."""
    pins = builder.read_pins()
    for name in LIBRARIES:
        assert len(pins[name][1]) >= len(builder.PLATFORMS) * len(builder.PYTHONS), name


def test_a_missing_wheel_is_named(builder: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(builder, "WHEELS", tmp_path)
    monkeypatch.setattr(builder, "read_pins", lambda: {"scipy": ("1.0", {"0" * 64})})
    monkeypatch.setattr(builder, "run_pip", lambda *_: None)
    with pytest.raises(builder.BuildError, match=r"no wheel for Python 3\.11 on windows-x64 of: scipy"):
        builder.fetch_wheels("windows-x64")
    with pytest.raises(builder.BuildError, match=r"no wheel for Python 3\.14 on windows-x64 of: scipy"):
        builder.fetch_test_wheels("windows-x64", "3.14")


def test_a_test_only_zip_says_so(builder: ModuleType, tmp_path: Path) -> None:
    folder = builder.stage([], ["linux-x64"], tmp_path / "stage")
    builder.mark_test_only(folder / "blender_manifest.toml", "3.14")
    manifest = tomllib.loads((folder / "blender_manifest.toml").read_text("utf-8"))
    assert manifest["id"] == "counterpoise"
    assert manifest["name"] == "Counterpoise (test only, Python 3.14)"
    assert "Test only" in manifest["tagline"]
    assert len(manifest["tagline"]) <= 64  # Blender's own limit: bl_pkg/cli/blender_ext.py


@pytest.mark.parametrize("arguments", [["--python", "3.14"], ["--test-only"], ["--platform", "all", "--out", "x.zip"]])
def test_options_that_do_not_go_together_are_refused(builder: ModuleType, arguments: list[str]) -> None:
    with pytest.raises(SystemExit):
        builder.read_options(arguments)
