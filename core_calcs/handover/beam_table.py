"""The table of neck, trunk, tail and limbs as beams."""

from __future__ import annotations

from ..skeleton.tree import Skeleton
from ..studies.assessment import Assessment
from ..studies.beams import Beam, find_beams
from .tables import Cell, DataTable, table_of, vector_cells

_LOADS = (
    "axial_force_N",
    "shear_sideways_N",
    "shear_normal_N",
    "torsion_Nm",
    "bending_about_sideways_Nm",
    "bending_about_normal_Nm",
    "resultant_shear_N",
    "resultant_bending_Nm",
)


def tabulate_beams(skeleton: Skeleton, assessment: Assessment) -> DataTable:
    """What passes through the joints of every chain, by length along it, in its local axes (studies.beams)."""
    rows = [row for beam in find_beams(skeleton, assessment) for row in _list_rows(beam)]
    axes = [head for name in ("along", "sideways", "normal") for head in vector_cells(name, "1", None)]
    heads = ("beam", "joint", "element_beyond", "station_m", *vector_cells("point", "m", None), *_LOADS)
    return table_of("beams", rows, (*heads, "rests_on_shares_of_feet", *axes))


def _list_rows(beam: Beam) -> list[dict[str, Cell]]:
    rows = []
    for k, joint in enumerate(beam.joints):
        row: dict[str, Cell] = {"beam": beam.name, "joint": joint, "element_beyond": beam.elements[k]}
        row |= {"station_m": float(beam.station_m[k]), **vector_cells("point", "m", beam.points_m[k])}
        loads = (beam.axial_N[k], *beam.shear_N[k], beam.torsion_Nm[k], *beam.bending_Nm[k])
        loads = (*loads, beam.resultant_shear_N[k], beam.resultant_bending_Nm[k])
        row |= dict(zip(_LOADS, map(float, loads), strict=True))
        row["rests_on_shares_of_feet"] = "yes" if beam.shared[k] else "no"
        for name, axis in zip(("along", "sideways", "normal"), beam.axes[k], strict=True):
            row |= vector_cells(name, "1", axis)
        rows.append(row)
    return rows
