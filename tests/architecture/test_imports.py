"""Imports run one way, in the core and in the add-on: checked on the add-on as it is zipped."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

pytest.importorskip("importlinter", reason="import-linter is not part of Blender's environment")

TOP = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def staged(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The add-on staged as it is zipped, without wheels."""
    spec = importlib.util.spec_from_file_location("build_extension", TOP / "build_extension.py")
    assert spec is not None
    assert spec.loader is not None
    builder = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(builder)
    folder: Path = builder.stage([], [], tmp_path_factory.mktemp("stage") / "counterpoise")
    return folder


def lint_imports(folder: Path) -> subprocess.CompletedProcess[str]:
    """Check the contracts on a staged add-on."""
    command = [sys.executable, "-c", "from importlinter.cli import lint_imports_command as run; run()"]
    options = ["--config", str(TOP / ".importlinter"), "--no-cache"]
    return subprocess.run(
        [*command, *options],
        cwd=folder.parent,
        env={**os.environ, "PYTHONPATH": str(folder.parent), "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
    )


def test_imports_run_one_way(staged: Path) -> None:
    run = lint_imports(staged)
    assert run.returncode == 0, run.stdout + run.stderr
    assert "0 broken" in run.stdout


@pytest.mark.parametrize(
    ("module", "line", "contract"),
    [
        ("core_calcs/mesh/surface.py", "from ..skeleton import tree", "The core's packages"),
        ("core_calcs/studies/assess.py", "from ..handover import handover_set", "The core's packages"),
        ("core_calcs/spatial/errors.py", "import bpy", "The core knows nothing of Blender"),
        ("bridge/rig.py", "from ..operators import posing", "The add-on's packages"),
        ("properties/settings.py", "from ..bridge import rig", "The add-on's packages"),
        ("panels/steps.py", "from ..core_calcs.studies import assess", "Panels, draw, properties and preferences"),
        ("draw/marks.py", "from ..core_calcs.studies import stops", "Panels, draw, properties and preferences"),
        ("draw/view.py", "from ..bridge import marks", "The add-on's packages"),
        ("bridge/motions.py", "from ..core_calcs.spatial import rotations", "Operators and bridge take studies"),
        ("bridge/calculations.py", "from . import frames", "What runs in a thread beside Blender"),
        ("operators/joints.py", "from ..core_calcs.articulation import facets", "Operators and bridge take studies"),
    ],
)
def test_a_forbidden_import_is_caught(staged: Path, tmp_path: Path, module: str, line: str, contract: str) -> None:
    folder = tmp_path / "counterpoise"
    shutil.copytree(staged, folder)
    path = folder / module
    path.write_text(path.read_text("utf-8") + f"\n{line}\n", "utf-8")
    run = lint_imports(folder)
    assert run.returncode != 0
    broken = [row for row in run.stdout.splitlines() if row.rstrip().endswith("BROKEN")]
    assert any(contract in row for row in broken), run.stdout
