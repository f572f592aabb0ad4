"""Blender in this process, the built zip installed in it as a user would, nothing else of the project importable.

Run in an environment of bpy and pytest alone: COUNTERPOISE_BLENDER=1 python -m pytest tests/blender. COUNTERPOISE_ZIP
names the zip, else the newest in dist/ is taken. Where bpy is not installed the tests are left out, unless
COUNTERPOISE_BLENDER says that they are meant to run.
"""

from __future__ import annotations

import atexit
import importlib
import importlib.util
import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

HERE = Path(__file__).parent

sys.path.insert(0, str(HERE))  # for animal.py and scenes.py
if importlib.util.find_spec("bpy") is None:
    if os.environ.get("COUNTERPOISE_BLENDER"):
        raise ImportError("COUNTERPOISE_BLENDER is set, but this Python has no bpy")
    collect_ignore_glob = ["test_*.py"]
else:
    _resources = tempfile.mkdtemp(prefix="counterpoise-blender-")
    os.environ["BLENDER_USER_RESOURCES"] = _resources  # before bpy is imported: a Blender that nobody has used
    atexit.register(shutil.rmtree, _resources, ignore_errors=True)
    import bpy
    from scenes import PACKAGE

    _ended = pytest.StashKey[int]()

    def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
        """Keep how the run has ended."""
        session.config.stash[_ended] = int(exitstatus)

    @pytest.hookimpl(trylast=True)
    def pytest_unconfigure(config: pytest.Config) -> None:
        """End without Blender's exit handlers, which in 4.5 can wait for ever: see demo_blend/leaving.py."""
        if _ended not in config.stash:
            return
        config.get_terminal_writer().flush()
        atexit._run_exitfuncs()  # Python's own: folders are cleared away
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(config.stash[_ended])


@pytest.fixture(scope="session")
def extension_zip() -> Path:
    """The zip under test."""
    named = os.environ.get("COUNTERPOISE_ZIP")
    zips = sorted((HERE.parents[1] / "dist").glob("*.zip"), key=lambda path: path.stat().st_mtime)
    if not named and not zips:
        raise FileNotFoundError("no zip in dist/: run python build_extension.py, or set COUNTERPOISE_ZIP")
    return Path(named).absolute() if named else zips[-1]


@pytest.fixture(scope="session", autouse=True)
def installed(extension_zip: Path) -> None:
    """The zip installed and enabled, in the way Blender's own menu does it."""
    done = bpy.ops.extensions.package_install_files(
        filepath=str(extension_zip), repo="user_default", enable_on_install=True
    )
    assert done == {"FINISHED"}
    assert PACKAGE in bpy.context.preferences.addons


@pytest.fixture(autouse=True)
def empty_scene(installed: None) -> None:
    """An empty file for each test; the add-on stays enabled."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)


@pytest.fixture(scope="session")
def part(installed: None) -> Callable[[str], ModuleType]:
    """Gives a module of the installed extension, e.g. part("core_calcs.skeleton.pose")."""
    return lambda name: importlib.import_module(f"{PACKAGE}.{name}")


@pytest.fixture(scope="session")
def animal_files(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Mesh folder and element table of the made-up animal."""
    import animal

    top = tmp_path_factory.mktemp("animal")
    rows = animal.write_animal(top / "scans")
    (top / "elements.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return top / "scans", top / "elements.csv"


@pytest.fixture(scope="session")
def animal_blend(animal_files: tuple[Path, Path], part: Callable[[str], ModuleType]) -> Path:
    """The made-up animal imported, its joints set by hand, saved."""
    import scenes

    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scenes.import_animal(part, *animal_files)
    path = animal_files[0].parent / "animal.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    return path


@pytest.fixture
def animal_scene(animal_blend: Path, empty_scene: None, part: Callable[[str], ModuleType]) -> Any:
    """The made-up animal in the scene, each time as it was saved."""
    import scenes

    bpy.ops.wm.open_mainfile(filepath=str(animal_blend))
    return scenes.Scene(part)


@pytest.fixture(scope="session")
def column_blend(tmp_path_factory: pytest.TempPathFactory, installed: None) -> Path:
    """Three vertebrae with flat ends, a tenth apart, joined by their facets; saved beside their files."""
    from animal import make_box, write_stl

    top = tmp_path_factory.mktemp("column")
    rows = ["file,body,unit,element,series,position,side,parent,attachment,reason,origin\n"]
    for k, parent in enumerate(("", "L1", "L2"), start=1):
        write_stl(top / f"L{k}.stl", make_box((90, 80, 60), (-100.0 * k, 0, 300)))
        attachment = "column" if parent else "root"
        rows.append(f"L{k}.stl,,mm,L{k},dorsal,{k},middle,{parent},{attachment},,sculpted\n")
    (top / "elements.csv").write_text("".join(rows), encoding="utf-8")
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    given = {"folder": str(top), "table_path": str(top / "elements.csv"), "unit": "mm", "name": "column"}
    assert bpy.ops.counterpoise.import_skeleton(**given) == {"FINISHED"}
    bpy.ops.wm.save_as_mainfile(filepath=str(top / "column.blend"))
    return top / "column.blend"


@pytest.fixture(scope="session")
def crooked_blend(tmp_path_factory: pytest.TempPathFactory, installed: None) -> Path:
    """Four vertebrae of different sizes, each narrower behind than in front, but L2, which was mounted end for end."""
    from animal import make_taper, write_stl

    top = tmp_path_factory.mktemp("crooked")
    rows = ["file,body,unit,element,series,position,side,parent,attachment,reason,origin\n"]
    for k, parent in enumerate(("", "L1", "L2", "L3"), start=1):
        turn = (-1, -1, 1) if k == 2 else (1, 1, 1)
        triangles = make_taper((90, 80 + k, 60 + 3 * k), 0.8) * turn + (-100.0 * k, 0, 300)
        write_stl(top / f"L{k}.stl", triangles)
        rows.append(f"L{k}.stl,,mm,L{k},dorsal,{k},middle,{parent},{'column' if parent else 'root'},,scanned\n")
    (top / "elements.csv").write_text("".join(rows), encoding="utf-8")
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    given = {"folder": str(top), "table_path": str(top / "elements.csv"), "unit": "mm", "name": "crooked"}
    assert bpy.ops.counterpoise.import_skeleton(**given) == {"FINISHED"}
    bpy.ops.wm.save_as_mainfile(filepath=str(top / "crooked.blend"))
    return top / "crooked.blend"


@pytest.fixture
def crooked(crooked_blend: Path, empty_scene: None, part: Callable[[str], ModuleType]) -> Any:
    """The four vertebrae in the scene, each time as they were saved."""
    import scenes

    bpy.ops.wm.open_mainfile(filepath=str(crooked_blend))
    return scenes.Scene(part)


@pytest.fixture
def column(column_blend: Path, empty_scene: None, part: Callable[[str], ModuleType]) -> Any:
    """The three vertebrae in the scene, each time as they were saved."""
    import scenes

    bpy.ops.wm.open_mainfile(filepath=str(column_blend))
    return scenes.Scene(part)
