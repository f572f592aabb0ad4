"""The tables of what everything weighs: elements, discs and steelwork."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from ..skeleton.element import Element
from ..skeleton.tree import Skeleton
from ..studies.assessment import Assessment, ElementMass
from .pieces import list_pieces
from .tables import Cell, DataTable, table_of, vector_cells


def tabulate_elements(skeleton: Skeleton, assessment: Assessment, files: Mapping[str, str]) -> DataTable:
    """Mass, centre and inertia (about the centre, world axes) of every element, and the file of its posed mesh."""
    masses = {mass.element: mass for mass in assessment.masses}
    rows = [_element_row(element, masses.get(element.name), files[element.name]) for element in skeleton.elements]
    return table_of("elements", rows)


def _element_row(element: Element, mass: ElementMass | None, file: str) -> dict[str, Cell]:
    return {
        "element": element.name,
        "series": element.series,
        "position": "" if element.position is None else element.position,
        "side": element.side,
        "mass_kg": mass.mass_kg if mass else None,
        "mass_uncertainty_kg": mass.mass_uncertainty_kg if mass else None,
        **_cast_cells(mass),
        **vector_cells("centre", "m", mass.centre_m if mass else None),
        **_inertia_cells(mass.inertia_kg_m2 if mass else np.full((3, 3), np.nan)),
        "file": file,
        "states": "; ".join(element.solid.states),
        "triangles": element.solid.triangles,
        "origin": element.origin,
        "made_from": element.made_from,
        "source_file": element.source.file,
        "source_body": "" if element.source.body is None else element.source.body,
    }


def _inertia_cells(inertia: np.ndarray) -> dict[str, Cell]:
    pairs = {"xx": (0, 0), "yy": (1, 1), "zz": (2, 2), "xy": (0, 1), "xz": (0, 2), "yz": (1, 2)}
    return {f"inertia_{pair}_kg_m2": float(inertia[at]) for pair, at in pairs.items()}


def tabulate_parts(assessment: Assessment) -> DataTable:
    """Mass, centre and inertia of every disc, and of the steel in every element; not in the elements' masses."""
    rows: list[dict[str, Cell]] = [
        {
            "part": part.name,
            "kind": part.kind,
            "carried_by": part.element,
            "mass_kg": part.mass_kg,
            "mass_uncertainty_kg": part.mass_uncertainty_kg,
            "mass_from": "weighing" if part.weighed else "calculation",
            **vector_cells("centre", "m", part.centre_m),
            **_inertia_cells(part.inertia_kg_m2),
        }
        for part in assessment.parts
    ]
    heads: tuple[str, ...] = ("part", "kind", "carried_by", "mass_kg", "mass_uncertainty_kg", "mass_from")
    heads += tuple(vector_cells("centre", "m", None)) + tuple(_inertia_cells(np.zeros((3, 3))))
    return table_of("parts", rows, heads)


def tabulate_mass_along(skeleton: Skeleton, assessment: Assessment) -> DataTable:
    """Every piece by the place of its centre along x, from the tail on, with the mass up to and with it."""
    heads = ("piece", "kind", "series", "centre_x_m", "mass_kg", "mass_up_to_here_kg", "share_up_to_here_percent")
    rows: list[tuple[Cell, ...]] = []
    whole, up_to = assessment.mass_kg or math.nan, 0.0
    for piece in list_pieces(skeleton, assessment):
        up_to += piece.mass_kg
        rows.append((piece.name, piece.kind, piece.series, piece.x_m, piece.mass_kg, up_to, 100 * up_to / whole))
    return DataTable("mass-along", heads, tuple(rows))


def _cast_cells(mass: ElementMass | None) -> dict[str, Cell]:
    """How an element is cast, and what it weighs by calculation beside what it was found to weigh."""
    if mass is None:
        return dict.fromkeys(
            ("casting", "material", "wall_mm", "struts_share", "metal_m3", "calculated_kg", "pits_kg", "mass_from")
        )
    hollow = mass.casting.kind == "hollow"
    return {
        "casting": mass.casting.kind,
        "material": mass.material,
        "wall_mm": 1000 * mass.casting.wall_m if hollow else "",
        "struts_share": mass.casting.struts_share if hollow else "",
        "metal_m3": mass.metal_m3,
        "calculated_kg": mass.calculated_kg,
        "pits_kg": mass.pits_kg if hollow else "",
        "mass_from": "weighing" if mass.weighed else "calculation",
    }
