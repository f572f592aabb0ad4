"""Ten quay striders as they were mounted: what the audit finds (`make trials`), and that it is judged as declared."""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[2] / "demo_blend"))
from auditing import judge_audit
from mounting import KINDS, MountFault
from run_audit import judge_mount

from core_calcs.skeleton.verdict import Rating, Verdict

SEEDS = range(1, 11)
VERTEBRAE_TURNED, EXCHANGED, LIMBS = 0.9, 0.8, 0.6
"""Shares that must be found, as auditing.py declares them."""
TURNED = MountFault("vertebra upside down", "turned", ("caudal 4",), "upside down")
SWAPPED = MountFault("neighbours in the column exchanged", "exchanged", ("caudal 8", "caudal 9"))


def say(fault, elements, way, decision="wrong"):
    return Verdict(fault, elements, decision, (Rating(way, 1.0, ()),), {}, "told")


def test_what_says_just_that_is_found_in_whatever_order():
    verdicts = [say("turned", ("caudal 4",), "upside down"), say("exchanged", ("caudal 9", "caudal 8"), "exchanged")]
    outcome = judge_audit(verdicts, [TURNED, SWAPPED])
    assert (outcome.found, outcome.undecided, outcome.accused) == ((TURNED, SWAPPED), (), ())


@pytest.mark.parametrize(
    "verdict",
    [
        say("turned", ("caudal 4",), "end for end"),
        say("mirrored", ("caudal 4",), "upside down"),
        say("exchanged", ("caudal 4", "caudal 5"), "exchanged"),
    ],
)
def test_another_way_fault_or_neighbour_is_an_accusation_and_not_undecided(verdict):
    outcome = judge_audit([verdict], [TURNED])
    assert (outcome.found, outcome.undecided, len(outcome.accused)) == ((), (), 1)


def test_nothing_said_is_undecided():
    verdicts = [say("turned", ("caudal 4",), "as placed", "undecided"), say("turned", ("dorsal 3",), "end for end")]
    outcome = judge_audit(verdicts, [TURNED])
    assert (outcome.found, outcome.undecided) == ((), (TURNED,))
    assert outcome.accused == ("turned: dorsal 3: told",)


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory):
    """Of every animal, the wrongly mounted one's and the sound one's."""
    folder = tmp_path_factory.mktemp("mounts")
    return [judge_mount(folder, seed) for seed in SEEDS]


@pytest.mark.trial
@pytest.mark.xfail(strict=True, reason="required, not reached: the coracoids of seed 3 are said to stand exchanged")
def test_nothing_that_is_sound_is_accused(outcomes):
    assert [told for pair in outcomes for outcome in pair for told in outcome.accused] == []


@pytest.mark.trial
@pytest.mark.parametrize(
    "kinds",
    [
        "vertebra ",
        pytest.param(
            "exchanged in the column", marks=pytest.mark.xfail(strict=True, reason="required, not reached: 6 of 12")
        ),
        pytest.param(
            "of limbs", marks=pytest.mark.xfail(strict=True, reason="required, not reached in six seeds: 20 of 36")
        ),
    ],
)
def test_most_is_found(outcomes, kinds):
    share, wanted = group_kinds()[kinds]
    found = Counter(fault.kind for faulty, _ in outcomes for fault in faulty.found)
    assert sum(found[kind] for kind in wanted) >= share * len(wanted) * len(SEEDS), found


def group_kinds() -> dict[str, tuple[float, list[str]]]:
    """The share that must be found, and of which kinds; at the end of the tail nothing is asked."""
    turned = [kind for kind in KINDS if kind.startswith("vertebra ") and "end of the tail" not in kind]
    exchanged = ["neighbours in the column exchanged", "vertebrae exchanged farther apart"]
    limbs = [kind for kind in KINDS if kind.startswith("bone") or kind == "left for right"]
    assert len(turned) + len(exchanged) + len(limbs) == len(KINDS) - 1
    return {
        "vertebra ": (VERTEBRAE_TURNED, turned),
        "exchanged in the column": (EXCHANGED, exchanged),
        "of limbs": (LIMBS, limbs),
    }
