"""Colours that could not be read are told in one sentence."""

from __future__ import annotations

from types import SimpleNamespace


def test_how_many_which_first_and_what_to_do(part) -> None:
    word = part("bridge.colour_faults").word_colour_faults
    plain, one, other = (SimpleNamespace(colours_fault=fault) for fault in ("", "b.obj: no x.mtl", "a.obj: no y.png"))
    remedy = "Put what is lacking beside the scans, or export them again, and read them anew"
    assert word({"T1": plain}) == ""
    assert (
        word({"T1": plain, "T2": one, "T3": one}) == f"Colours of a scan could not be read: b.obj: no x.mtl. {remedy}"
    )
    told = word({"T1": one, "T2": other})
    assert told == f"Colours of 2 scans could not be read, first a.obj: no y.png. {remedy}"
