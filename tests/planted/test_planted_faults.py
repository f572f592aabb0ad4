"""One animal of the kind that `make planted` tries: sound it shows nothing, and in its double every fault is found."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[2] / "demo_blend"))
from finding import TOLD_AS, judge_set
from make_strider import FAULTY, write_strider

SEED = 21


@pytest.fixture(scope="module")
def animal(tmp_path_factory):
    folder = tmp_path_factory.mktemp("strider")
    write_strider(folder, SEED, 0.5, faults=True)
    return folder


def test_a_sound_animal_shows_nothing(animal):
    assert judge_set(animal).false == ()


def test_every_planted_fault_is_found_and_nothing_else(animal):
    outcome = judge_set(animal / FAULTY)
    assert outcome.missed == ()
    assert outcome.false == ()


def test_every_kind_is_planted_once_and_shows_in_its_file(animal):
    expected = json.loads((animal / FAULTY / "expected.json").read_text(encoding="utf-8"))
    kinds = [fault["kind"] for fault in expected["faults"]]
    assert len(kinds) == len(set(kinds))
    assert set(kinds) == set(TOLD_AS)
    for fault in expected["faults"]:
        if fault["file"].endswith(".stl") and fault["kind"] != "named twice":
            sound, spoilt = (folder / "scans" / fault["file"] for folder in (animal, animal / FAULTY))
            assert sound.read_bytes() != spoilt.read_bytes(), fault
