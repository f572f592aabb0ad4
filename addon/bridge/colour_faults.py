"""Colours of scans that could not be read, in one sentence: the scans themselves were, and are shown plain."""

from __future__ import annotations

from collections.abc import Mapping

from ..core_calcs.studies.display import Surface
from ..translations.phrases import say, tell


def word_colour_faults(surfaces: Mapping[str, Surface]) -> str:
    """How many files, the first of them, why, what to do; empty where all colours could be read."""
    faults = sorted({surface.colours_fault for surface in surfaces.values() if surface.colours_fault})
    if not faults:
        return ""
    remedy = say("Put what is lacking beside the scans, or export them again, and read them anew")
    if len(faults) == 1:
        return say("Colours of a scan could not be read: {fault}. {remedy}", fault=tell(faults[0]), remedy=remedy)
    told = "Colours of {count} scans could not be read, first {fault}. {remedy}"
    return say(told, count=len(faults), fault=tell(faults[0]), remedy=remedy)
