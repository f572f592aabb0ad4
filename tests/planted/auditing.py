"""Whether the audit finds the faults of a mount, and accuses nothing else.

How it is judged was written down before the first outcome was seen. A fault is *found* where a verdict of `wrong` says
just what it is (turned, exchanged, mirrored) of exactly its elements, and of a vertebra in which way it is turned; it
is *undecided* where no verdict of `wrong` names any of its elements. Every other verdict of `wrong` is a *false
accusation*, in the faulty animal as in the sound one. What is asked for: no false accusation in ten animals and their
doubles; of vertebrae with zygapophyses that are turned nine in ten found, of vertebrae that are exchanged eight, of
bones of limbs and girdles six. At the end of the tail, which has no zygapophyses, nothing is asked but to accuse none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from mounting import MountFault

from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.skeleton.table import read_table
from core_calcs.skeleton.verdict import Verdict
from core_calcs.studies.articulate import articulate
from core_calcs.studies.audit import audit_document
from core_calcs.studies.survey import survey_folder

QUICK = LimitSettings(search_rad=0.05)
"""The audit asks for no limits."""
HELD = "its joint is not asked for"


@dataclass(frozen=True)
class Outcome:
    """found, undecided : faults; accused : verdicts of wrong on what is sound, in words"""

    found: tuple[MountFault, ...]
    undecided: tuple[MountFault, ...]
    accused: tuple[str, ...]


def audit_set(folder: Path) -> tuple[Verdict, ...]:
    """Make the skeleton of a set of scans with its column's joints, and audit it."""
    rows = [
        replace(row, attachment="fixed", reason=HELD) if row.attachment == "limb" else row
        for row in read_table(folder / "elements.csv")
    ]
    scans = folder / "scans"
    skeleton = articulate(rows, survey_folder(scans, "mm"), scans, folder.name, QUICK, workers=1)
    return audit_document(SkeletonDocument(skeleton, (), default_build(), Site(), str(scans)), scans).verdicts


def judge_audit(verdicts: Sequence[Verdict], faults: Sequence[MountFault]) -> Outcome:
    """Hold the verdicts of an animal against what was planted in it; nothing, in a sound one."""
    wrong = [verdict for verdict in verdicts if verdict.decision == "wrong"]
    found = tuple(fault for fault in faults if any(_says(verdict, fault) for verdict in wrong))
    false = [verdict for verdict in wrong if not any(_says(verdict, fault) for fault in faults)]
    named = {name for verdict in wrong for name in verdict.elements}
    undecided = tuple(fault for fault in faults if fault not in found and not named & set(fault.elements))
    return Outcome(found, undecided, tuple(f"{v.fault}: {', '.join(v.elements)}: {v.what}" for v in false))


def _says(verdict: Verdict, fault: MountFault) -> bool:
    way = not fault.way or verdict.ratings[0].way == fault.way
    return verdict.fault == fault.says and set(verdict.elements) == set(fault.elements) and way
