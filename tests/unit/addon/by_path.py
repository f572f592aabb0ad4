"""Modules of the add-on that are free of Blender, read without the package about them, which is not."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

ADDON = Path(__file__).parents[3] / "addon"


def load(name: str) -> ModuleType:
    """name : of the file in `addon`, without its ending"""
    path = ADDON / f"{name}.py"
    given = importlib.util.spec_from_file_location(f"addon_{path.stem}", path)
    assert given is not None
    assert given.loader is not None
    module = importlib.util.module_from_spec(given)
    given.loader.exec_module(module)
    return module
