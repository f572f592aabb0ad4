"""Made-up joints for the tests of articulation."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def shapes() -> ModuleType:
    """tests/made_up_column.py: vertebrae whose facets are known."""
    return _load("made_up_column")


@pytest.fixture(scope="session")
def limbs() -> ModuleType:
    """tests/made_up_limbs.py: pairs of bones whose joint is known."""
    return _load("made_up_limbs")


def _load(name: str) -> ModuleType:
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).parents[2] / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]
