"""The zip: valid, complete, and gone again without a trace when it is switched off."""

from __future__ import annotations

import importlib
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import bpy
import pytest
from scenes import PACKAGE


def read_manifest(extension_zip: Path) -> dict[str, object]:
    with zipfile.ZipFile(extension_zip) as archive:
        return tomllib.loads(archive.read("blender_manifest.toml").decode())


def test_blenders_own_tool_finds_it_valid(extension_zip: Path) -> None:
    tool = Path(bpy.utils.resource_path("LOCAL"), "scripts", "addons_core", "bl_pkg", "cli", "blender_ext.py")
    run = subprocess.run([sys.executable, tool, "validate", extension_zip], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout + run.stderr


def test_it_carries_a_wheel_for_each_python_and_no_numpy(extension_zip: Path) -> None:
    wheels = [Path(str(path)).name for path in read_manifest(extension_zip)["wheels"]]
    with zipfile.ZipFile(extension_zip) as archive:
        assert sorted(f"wheels/{name}" for name in wheels) == sorted(n for n in archive.namelist() if ".whl" in n)
    for name in ("scipy", "matplotlib", "contourpy", "pillow"):
        tags = {wheel.split("-")[2] for wheel in wheels if wheel.startswith(f"{name}-")}
        assert tags == {"cp311", "cp313"}
    assert not [wheel for wheel in wheels if wheel.startswith("numpy")]


def test_its_version_is_the_cores(extension_zip: Path, part) -> None:
    assert read_manifest(extension_zip)["version"] == part("core_calcs").__version__


@pytest.mark.parametrize("name", ["scipy", "trimesh", "jinja2", "matplotlib"])
def test_libraries_come_from_the_zip(name: str) -> None:
    """The environment holds none of them: what is imported was in the zip."""
    assert Path(bpy.utils.resource_path("USER")) in Path(importlib.import_module(name).__file__).parents


def test_units_are_those_the_core_reads(part) -> None:
    units = {item[0] for item in part("properties.settings").UNITS}
    assert units == set(part("core_calcs.mesh.reading").UNITS_M)


def test_limit_constraints_are_found_by_their_name(part) -> None:
    assert part("properties.settings").LIMITS == part("bridge.rig").LIMITS


def test_switching_off_and_on_again_leaves_nothing_behind() -> None:
    def traces() -> dict[str, object]:
        handlers = {
            name: [h for h in getattr(bpy.app.handlers, name) if getattr(h, "__module__", "").startswith(PACKAGE)]
            for name in dir(bpy.app.handlers)
            if isinstance(getattr(bpy.app.handlers, name), list)
        }
        return {
            "handlers": {name: len(found) for name, found in handlers.items() if found},
            "classes": sorted(name for name in dir(bpy.types) if "counterpoise" in name.lower()),
            "operators": sorted(dir(bpy.ops.counterpoise)),
            "property": hasattr(bpy.types.Scene, "counterpoise"),
            "menus": [
                draw.__name__
                for menu in (bpy.types.TOPBAR_MT_file_import, bpy.types.TOPBAR_MT_file_export)
                for draw in menu._dyn_ui_initialize()
                if draw.__module__.startswith(PACKAGE)
            ],
        }

    on = traces()
    assert on["handlers"]
    assert on["classes"]
    assert on["property"]
    assert on["menus"] == ["draw_import", "draw_export"]
    bpy.ops.preferences.addon_disable(module=PACKAGE)
    off = traces()
    assert off == {"handlers": {}, "classes": [], "operators": [], "property": False, "menus": []}
    bpy.ops.preferences.addon_enable(module=PACKAGE)
    bpy.ops.preferences.addon_disable(module=PACKAGE)
    bpy.ops.preferences.addon_enable(module=PACKAGE)
    assert traces() == on
