"""How the elements are cast, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from ..build.build import Build, Casting
from ..build.castings import find_casting
from ..skeleton.tree import Skeleton
from ..studies.assessment import ElementMass
from .quantities import format_figure, format_fixed


def describe_casting(casting: Casting) -> str:
    """One casting: solid, or hollow with its wall and what struts fill; of what, where it is not the build's alloy."""
    told = _describe_kind(casting)
    return told if casting.material is None else f"{told}, of {casting.material.name}"


def _describe_kind(casting: Casting) -> str:
    if casting.kind == "bone":
        return "bone itself"
    if casting.kind == "solid":
        return "solid"
    told = f"hollow, wall {1000 * casting.wall_m:g} ± {1000 * casting.wall_uncertainty_m:g} mm"
    if not casting.struts_share:
        return told
    uncertainty = f" ± {100 * casting.struts_uncertainty_share:.2g}" if casting.struts_uncertainty_share else ""
    return f"{told}, struts in {100 * casting.struts_share:.3g}{uncertainty} % of the void"


def describe_castings(skeleton: Skeleton, build: Build) -> str:
    """How many elements are cast how, the most frequent first."""
    counts = Counter(describe_casting(find_casting(build, element)) for element in skeleton.elements)
    if len(counts) == 1:
        return f"all {next(iter(counts))}"
    return "; ".join(f"{count} {told}" for told, count in counts.most_common())


def describe_density(build: Build) -> str:
    """Density of the material with its uncertainty."""
    material = build.material
    return f"{format_figure(material.density_kg_m3, 4)} ± {format_figure(material.density_uncertainty_kg_m3, 2)} kg/m³"


def describe_materials(build: Build) -> tuple[str, ...]:
    """A sentence on every material besides the build's that castings are of."""
    castings = [own.casting for own in (*build.series_castings,)] + [own.casting for own in build.element_castings]
    others = dict.fromkeys(own.material for own in (build.casting, *castings) if own.material is not None)
    return tuple(
        f"{own.name}: {format_figure(own.density_kg_m3, 4)} ± {format_figure(own.density_uncertainty_kg_m3, 2)} kg/m³. "
        f"Source: {own.source}."
        for own in others
        if own != build.material
    )


def describe_metal(skeleton: Skeleton, masses: Sequence[ElementMass]) -> str:
    """How much of what the surfaces enclose is metal, and how many hollow castings have no void at all."""
    solids = {element.name: element.solid.volume_m3 for element in skeleton.elements}
    hollow = [mass for mass in masses if mass.casting.kind == "hollow"]
    if not hollow:
        return ""
    whole = sum(solids[mass.element] for mass in hollow)
    massive = sum(mass.metal_m3 >= solids[mass.element] for mass in hollow)
    share = 100 * sum(mass.metal_m3 for mass in hollow) / whole if whole > 0 else 100.0
    told = f"Of what the surfaces of the hollow castings enclose, {format_fixed(share, 1)} % is metal"
    return told + (f"; {massive} of them have no void, as they are thinner than two walls." if massive else ".")


def describe_pits(masses: Sequence[ElementMass]) -> str:
    """What passing pits over would take off the hollow castings; empty where there are none."""
    hollow = [mass for mass in masses if mass.casting.kind == "hollow" and not mass.weighed]
    pitted = [mass for mass in hollow if mass.pits_kg]
    unknown = sum(mass.pits_kg is None for mass in hollow)
    told = []
    if pitted:
        less = sum(mass.pits_kg or 0.0 for mass in pitted)
        told.append(
            f"{len(pitted)} of the hollow castings have pits narrower than their wall, or fragments inside, which have "
            f"walls of their own; where they are passed over all is {format_figure(less, 2)} kg lighter, which is part "
            "of the uncertainty."
        )
    if unknown:
        told.append(f"What pits do is not known of {unknown}, whose voids an earlier version measured.")
    return " ".join(told)


def describe_weighings(masses: Sequence[ElementMass]) -> tuple[str, ...]:
    """For every weighed element, how far the calculation was off."""
    return tuple(
        f"{mass.element} was weighed: {format_figure(mass.mass_kg)} kg, {_describe_difference(mass)}."
        for mass in masses
        if mass.weighed
    )


def _describe_difference(mass: ElementMass) -> str:
    if mass.calculated_kg <= 0:
        return "its calculated mass is not known"
    percent = 100 * (mass.mass_kg / mass.calculated_kg - 1)
    words = "more" if percent >= 0 else "less"
    return f"{format_fixed(abs(percent), 1)} % {words} than the {format_figure(mass.calculated_kg)} kg calculated"
