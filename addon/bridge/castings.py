"""How everything is cast and what it weighs, in words: computed outside drawing, kept by content."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

import bpy

from ..core_calcs.build.build import Build, Casting
from ..core_calcs.handover.casting_text import describe_density
from ..core_calcs.handover.quantities import format_fixed
from ..core_calcs.skeleton.element import Element
from ..translations.phrases import name_language, say, tell
from .casting_rows import Row
from .figures import attempt
from .kept_document import KeptDocument, keep_document
from .units import Units, scene_units, word_mass, write_out


@dataclass(frozen=True)
class CastingWords:
    """A row in words.

    cast, mass : short, for the list; the mass without its unit
    own : something is said of it itself, so that it does not go by the rest
    weighed : whether it, or how many of its elements, were weighed
    lines : in full
    """

    cast: str
    mass: str
    own: bool
    weighed: bool
    lines: tuple[str, ...]


@dataclass(frozen=True)
class PartWords:
    """The discs of a material, or a steelwork, in words; name: of the steelwork, empty for discs."""

    name: str
    line: str


@dataclass(frozen=True)
class Castings:
    """All rows, what everything is cast in, or why that is not known; unit: of the masses."""

    rows: dict[Row, CastingWords]
    unit: str = ""
    parts: tuple[PartWords, ...] = ()
    alloy: str = ""
    problem: str = ""


_NOTHING = Castings({})

_shown: dict[tuple[int, int], tuple[tuple[str, Units, str], Castings]] = {}
"""By the session numbers of scene and text block: the content that the words were made from, and the words."""


def drawn_castings(scene: bpy.types.Scene) -> Castings:
    """The words to draw."""
    text = scene.counterpoise.document
    return _NOTHING if text is None else _shown.get((scene.session_uid, text.session_uid), ((), _NOTHING))[1]


def refresh_castings(context: bpy.types.Context) -> bool:
    """Put into words what has changed of the context's scene; True where something shown has changed."""
    scene, text = context.scene, context.scene.counterpoise.document
    if text is None:
        return False
    place, units, language = (scene.session_uid, text.session_uid), scene_units(scene), name_language()
    before = _shown.get(place, (("", units, language), _NOTHING))
    kept, problem = attempt(lambda: keep_document(scene), before[1].problem)
    if kept is None:
        _shown[place] = (("", units, language), Castings({}, problem=problem))
    elif before[0] != (kept.digest, units, language):
        found, problem = attempt(lambda: word_castings(kept, units))
        _shown[place] = ((kept.digest, units, language), found or Castings({}, problem=problem))
    return _shown[place][1] != before[1]


def drop_castings() -> None:
    """Forget all words: the add-on is switched off, or another file is loaded."""
    _shown.clear()


def word_castings(kept: KeptDocument, units: Units) -> Castings:
    """Every row of the document in words; raises SkeletonError where an element cannot be weighed."""
    document = kept.document
    build, elements = document.build, document.skeleton.elements
    groups: dict[Row, list[int]] = {("ALL", document.skeleton.name): list(range(len(elements)))}
    for i, element in enumerate(elements):
        groups.setdefault(("SERIES", element.series), []).append(i)
        groups[("ELEMENT", element.name)] = [i]
    own = {("SERIES", own.series) for own in build.series_castings}
    own |= {("ELEMENT", own.element) for own in build.element_castings}
    own.add(("ALL", document.skeleton.name))
    rows = {row: _word_group(kept, members, row in own, units) for row, members in groups.items()}
    return Castings(
        rows, units.mass.name, word_parts(kept, units), f"{build.material.name}, {tell(describe_density(build))}"
    )


def word_short(casting: Casting, units: Units) -> str:
    """One casting in a cell of the list: its wall where it is hollow, and whether it has struts."""
    if casting.kind != "hollow":
        return casting.kind
    wall = _word_wall(casting.wall_m, units)
    return say("{wall}, struts", wall=wall) if casting.struts_share else wall


def word_casting(casting: Casting, units: Units) -> str:
    """One casting in full."""
    told = _word_kind(casting, units)
    return (
        told
        if casting.material is None
        else say("{casting}, of {material}", casting=told, material=casting.material.name)
    )


def _word_kind(casting: Casting, units: Units) -> str:
    if casting.kind != "hollow":
        return say("bone itself") if casting.kind == "bone" else tell("solid")
    wall, uncertainty = _word_wall(casting.wall_m, units), _word_wall(casting.wall_uncertainty_m, units)
    told = say("hollow, wall {wall} ± {uncertainty}", wall=wall, uncertainty=uncertainty)
    if not casting.struts_share:
        return told
    share = f"{100 * casting.struts_share:.3g}"
    if casting.struts_uncertainty_share:
        share = f"{share} ± {100 * casting.struts_uncertainty_share:.2g}"
    return say("{casting}, struts in {share} % of the void", casting=told, share=share)


def _word_wall(wall_m: float, units: Units) -> str:
    """A wall is read to a tenth of a millimetre."""
    digits = units.length.decimals + 1
    return f"{round(wall_m / units.length.size, digits):g} {units.length.name}"


def _word_group(kept: KeptDocument, members: list[int], own: bool, units: Units) -> CastingWords:
    weights, elements = kept.prepared.weights, kept.document.skeleton.elements
    castings = Counter(weights.castings[i] for i in members)
    short = word_short(castings.most_common(1)[0][0], units) if len(castings) == 1 else "several"
    # The whole is what stands there, discs and steel too; series and elements are the castings alone.
    masses = kept.prepared.bodies if len(members) == len(elements) else weights
    mass, uncertainty = float(masses.mass_kg[members].sum()), float(masses.uncertainty_kg[members].sum())
    lines = [word_mass(mass, uncertainty, units)]
    for casting, count in castings.most_common():
        told = word_casting(casting, units)
        if len(castings) > 1:
            told = say("{count} of {all}: {casting}", count=count, all=len(members), casting=told)
        elif len(members) > 1:
            told = say("all {casting}", casting=told)
        lines.append(told)
    lines += _word_metal(elements, weights.metal_m3, castings, members)
    lines += _word_pits(kept, members, units)
    lines += _word_weighings(kept, members, units)
    weighed = bool(weights.weighed[members].any())
    return CastingWords(short, format_short(mass / units.mass.size), own, weighed, tuple(lines))


def format_short(mass: float) -> str:
    """Three digits, no more than four decimals, whole numbers in full: a cell of the list is narrow."""
    if mass < 0.1:
        return f"{mass:.4f}"
    return f"{mass:#.3g}".rstrip(".") if mass < 999.5 else f"{mass:.0f}"


def word_parts(kept: KeptDocument, units: Units) -> tuple[PartWords, ...]:
    """A line for the discs of each material, and one for each steelwork."""
    build, parts, size = kept.document.build, kept.prepared.parts, units.mass.size

    def weigh(kind: str, names: set[str]) -> str:
        own = [part for part in parts if part.kind == kind and part.name in names]
        mass, uncertainty = sum(part.mass_kg for part in own) / size, sum(part.uncertainty_kg for part in own) / size
        return f"{mass:.3g} ± {uncertainty:.2g} {units.mass.name}"

    told = []
    for material in dict.fromkeys(disc.material for disc in build.discs):
        names = {disc.child for disc in build.discs if disc.material == material}
        values = {"material": material.name, "mass": weigh("disc", names)}
        one = say("1 disc of {material}: {mass}", **values)
        many = say("{count} discs of {material}: {mass}", count=len(names), **values)
        told.append(PartWords("", one if len(names) == 1 else many))
    for work in build.steelwork:
        line = say(
            "{name}: {section}, {start} to {end}: {mass}",
            **{"name": work.name, "section": work.section, "start": work.start, "end": work.end},
            mass=weigh("steelwork", {work.name}),
        )
        told.append(PartWords(work.name, line))
    return tuple(told)


def _word_metal(
    elements: tuple[Element, ...], metal_m3: object, castings: Counter[Casting], members: list[int]
) -> list[str]:
    """How much of what the surfaces enclose is metal."""
    whole = sum(elements[i].solid.volume_m3 for i in members)
    if whole <= 0 or not any(casting.kind == "hollow" for casting in castings):
        return []
    metal = sum(float(metal_m3[i]) for i in members)
    told = [say("{percent} % of what the surface encloses is metal", percent=f"{100 * metal / whole:.1f}")]
    massive = sum(float(metal_m3[i]) >= elements[i].solid.volume_m3 for i in members)
    if massive:
        one = say("it is thinner than two walls and without a void")
        many = say("{count} are thinner than two walls and without a void", count=massive)
        told.append(one if len(members) == 1 else many)
    return told


def _word_pits(kept: KeptDocument, members: list[int], units: Units) -> list[str]:
    """What passing pits over would take off, or that it is not known."""
    weights, size = kept.prepared.weights, units.mass.size
    shares = {i: float(weights.calculated_kg[i] / weights.metal_m3[i]) for i in members if weights.metal_m3[i] > 0}
    less = [density * float(weights.pits_m3[i]) / size for i, density in shares.items()]
    told = []
    if known := sum(mass for mass in less if mass > 0):
        less_mass = f"{known:.2g} {units.mass.name}"
        told.append(say("Pits narrower than the wall passed over: {mass} less", mass=less_mass))
    if any(math.isnan(mass) for mass in less):
        told.append(say("What pits do is not known: an earlier version measured the voids"))
    return told


def _word_weighings(kept: KeptDocument, members: list[int], units: Units) -> list[str]:
    """For every weighed element what the calculation says instead."""
    weights, elements, size = kept.prepared.weights, kept.document.skeleton.elements, units.mass.size
    notes = {own.element: own.note for own in kept.document.build.weighings}
    told = []
    for i in members:
        if not weights.weighed[i]:
            continue
        name, mass, calculated = elements[i].name, float(weights.mass_kg[i]), float(weights.calculated_kg[i])
        weighed, expected = (f"{write_out(value / size, 4)} {units.mass.name}" for value in (mass, calculated))
        line = _word_weighed(name, weighed, expected, mass / calculated - 1 if calculated > 0 else None)
        told.append(say("{line}. Note: {note}", line=line, note=notes[name]) if notes[name] else line)
    return told


def _word_weighed(name: str, weighed: str, expected: str, more_share: float | None) -> str:
    """What was weighed and what is calculated. more_share : of what is calculated; None where that is nothing"""
    values = {"name": name, "weighed": weighed, "calculated": expected}
    if more_share is None:
        return say("{name} weighed: {weighed}; {calculated} calculated", **values)
    values["percent"] = format_fixed(abs(100 * more_share), 1)
    if more_share > 0:
        return say("{name} weighed: {weighed}, {percent} % more than the {calculated} calculated", **values)
    return say("{name} weighed: {weighed}, {percent} % less than the {calculated} calculated", **values)


def own_casting(build: Build, row: Row) -> Casting:
    """The casting that a row goes by now: its own, else that of the rest."""
    level, name = row
    if level == "ELEMENT":
        for own in build.element_castings:
            if own.element == name:
                return own.casting
    if level == "SERIES":
        for series in build.series_castings:
            if series.series == name:
                return series.casting
    return build.casting
