"""Discs and steelwork in words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..build.build import Build, Disc, Steelwork
from ..build.parts import find_chain, list_points, measure_disc
from ..skeleton.tree import Skeleton
from ..studies.assessment import PartMass
from .quantities import format_figure, format_quantity


def describe_parts(skeleton: Skeleton, build: Build, parts: Sequence[PartMass]) -> tuple[str, ...]:
    """A sentence for the discs of each material, and one for each steelwork."""
    told = []
    for material in dict.fromkeys(disc.material for disc in build.discs):
        discs = [disc for disc in build.discs if disc.material == material]
        names = {disc.child for disc in discs}
        mass = sum(part.mass_kg for part in parts if part.kind == "disc" and part.name in names)
        count = "1 disc" if len(discs) == 1 else f"{len(discs)} discs"
        told.append(
            f"{count} of {material.name}, {format_figure(material.density_kg_m3, 4)} ± "
            f"{format_figure(material.density_uncertainty_kg_m3, 2)} kg/m³, {_describe_thickness(skeleton, discs)}: "
            f"{format_figure(mass)} kg. Source of the density: {material.source}."
        )
    for work in build.steelwork:
        mass = sum(part.mass_kg for part in parts if part.kind == "steelwork" and part.name == work.name)
        told.append(
            f"Steelwork {work.name}: {work.section}, {format_figure(work.kg_per_m)} ± "
            f"{format_figure(work.kg_per_m_uncertainty, 2)} kg/m over "
            f"{format_quantity(measure_length(skeleton, work), 'm')} from {work.start} to {work.end}: "
            f"{format_figure(mass)} kg. Source: {work.source}."
        )
    return tuple(told)


def measure_length(skeleton: Skeleton, work: Steelwork) -> float:
    """The length that counts [m]: as given, else along the joints."""
    if work.length_m is not None:
        return work.length_m
    points = list_points(skeleton, find_chain(skeleton, work.start, work.end))
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def _describe_thickness(skeleton: Skeleton, discs: Sequence[Disc]) -> str:
    """How thick discs are and, where they do not all fill the gap of their joint, that."""
    thick = [1000 * measure_disc(skeleton.joint_of(disc.child), disc)[0] for disc in discs]
    least, greatest = f"{min(thick):.3g}", f"{max(thick):.3g}"
    following = sum(disc.thickness_m is None for disc in discs)
    by_gap = {0: "as given", len(discs): "as the gaps at neutral"}.get(following, "as given or as the gaps at neutral")
    return f"{least} mm thick, {by_gap}" if least == greatest else f"{least} to {greatest} mm thick, {by_gap}"
