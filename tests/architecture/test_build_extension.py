"""The zip's build: hashes are checked, the manifest is filled in, the same sources give the same bytes."""

from __future__ import annotations

import hashlib
import importlib.util
import tomllib
import zipfile
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
