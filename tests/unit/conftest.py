"""Fixtures of the unit tests."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from core_calcs.document.document import SkeletonDocument
from core_calcs.mesh.records import Survey
from core_calcs.studies.survey import survey_folder
from tests.unit.box_beast import make_box_document


def _load_beside_suite(name: str) -> ModuleType:
    """A module of tests/ by its file: the suite is no package."""
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).parent.parent / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


@pytest.fixture(scope="session")
def random_skeletons() -> ModuleType:
    """tests/random_skeletons.py: made-up skeletons of any size."""
    return _load_beside_suite("random_skeletons")


@pytest.fixture(scope="session")
def mujoco_oracle() -> ModuleType:
    """tests/mujoco_oracle.py: the same skeletons in an independent rigid-body library."""
    return _load_beside_suite("mujoco_oracle")


@pytest.fixture(scope="session")
def shapes() -> ModuleType:
    """tests/made_up_column.py: vertebrae whose facets are known."""
    return _load_beside_suite("made_up_column")


@pytest.fixture(scope="session")
def chains() -> ModuleType:
    """tests/made_up_chain.py: a column of any length, its joints with limits and envelopes."""
    return _load_beside_suite("made_up_chain")


@pytest.fixture(scope="session")
def limbs() -> ModuleType:
    """tests/made_up_limbs.py: pairs of bones whose joint is known."""
    return _load_beside_suite("made_up_limbs")


@pytest.fixture(scope="session")
def sockets() -> ModuleType:
    """tests/made_up_sockets.py: joints whose bones overlap."""
    return _load_beside_suite("made_up_sockets")


@pytest.fixture(scope="session")
def dog_column() -> ModuleType:
    """tests/dog_column.py: the joints of the dog's column."""
    return _load_beside_suite("dog_column")


@pytest.fixture(scope="session")
def dog_survey(dog_folder: Path) -> Survey:
    """The survey of the dog's folder, in metres."""
    return survey_folder(dog_folder, "m")


@pytest.fixture
def rng() -> np.random.Generator:
    """Random numbers that are the same in every run."""
    return np.random.default_rng(20)


@pytest.fixture(scope="session")
def box_document(tmp_path_factory: pytest.TempPathFactory) -> tuple[SkeletonDocument, Path]:
    """The document of the boxes and where it is kept; its files are not to be changed."""
    return make_box_document(tmp_path_factory.mktemp("boxes"))


@pytest.fixture
def own_box_document(tmp_path: Path) -> tuple[SkeletonDocument, Path]:
    """The same, in files that a test may change."""
    return make_box_document(tmp_path)
