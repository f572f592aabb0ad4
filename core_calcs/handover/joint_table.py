"""The table of joints: wrench, angles in their limits, standard errors, discs."""

from __future__ import annotations

import math

import numpy as np

from ..skeleton.joint import AXES, Joint
from ..skeleton.tree import Skeleton
from ..studies.assessment import Assessment, JointLoad, JointUse
from .tables import Cell, DataTable, table_of, vector_cells


def tabulate_joints(skeleton: Skeleton, assessment: Assessment) -> DataTable:
    """Wrench (of the distal part on the proximal part), angles and limits of every joint."""
    loads = {load.child: load for load in assessment.joints}
    uses = {use.child: use for use in assessment.uses}
    rows = [_joint_row(joint, loads.get(joint.child), uses.get(joint.child)) for joint in skeleton.joints]
    return table_of("joints", rows, () if rows else ("joint", "parent", "kind"))


def _joint_row(joint: Joint, load: JointLoad | None, use: JointUse | None) -> dict[str, Cell]:
    row: dict[str, Cell] = {"joint": joint.child, "parent": joint.parent, "kind": joint.kind}
    row |= _wrench_cells(load) if load else dict.fromkeys(_wrench_cells(_NO_LOAD))
    told: dict[str, Cell] = {"confidence": joint.confidence, "reason": joint.reason}
    return row | _angle_cells(joint, use) | told | _error_cells(joint) | _disc_cells(joint)


def _disc_cells(joint: Joint) -> dict[str, Cell]:
    """How thick a disc is at neutral, whether that was set, and why; nothing where there are no end plates."""
    gap, disc = joint.gap_m, joint.disc
    return {
        "disc_mm": "" if gap is None else 1000 * gap,
        "disc_from": "" if gap is None else ("scan" if disc is None else "user"),
        "disc_reason": "" if disc is None else disc.reason,
    }


_NO_LOAD = JointLoad("", "", np.full(3, np.nan), None, None, None, None, None, None, None, None)


def _wrench_cells(load: JointLoad) -> dict[str, Cell]:
    """Centre, wrench in world and joint axes, and its range; where it has none the range is the wrench itself."""
    shear = (None, None) if load.shear_N is None else load.shear_N.tolist()
    bending = (None, None) if load.bending_Nm is None else load.bending_Nm.tolist()
    cells = vector_cells("centre", "m", load.point_m)
    cells |= vector_cells("force", "N", load.force_N) | vector_cells("moment", "Nm", load.moment_Nm)
    cells |= {
        "axial_N": load.axial_N,
        "shear_flexion_axis_N": shear[0],
        "shear_floating_axis_N": shear[1],
        "torsion_Nm": load.torsion_Nm,
        "bending_flexion_axis_Nm": bending[0],
        "bending_floating_axis_Nm": bending[1],
        "rests_on_shares_of_feet": "no" if load.force_range_N is None else "yes",
    }
    for i, end in enumerate(("least", "greatest")):
        cells |= vector_cells(
            f"{end}_force", "N", load.force_N if load.force_range_N is None else load.force_range_N[i]
        )
        moment = load.moment_Nm if load.moment_range_Nm is None else load.moment_range_Nm[i]
        cells |= vector_cells(f"{end}_moment", "Nm", moment)
    return cells


def _angle_cells(joint: Joint, use: JointUse | None) -> dict[str, Cell]:
    """Angles, limits and what is beyond them in degrees; a fixed joint has none, which is not `not known`."""
    cells: dict[str, Cell] = {}
    for i, axis in enumerate(AXES):
        limit = joint.limits[i] if joint.limits else None
        empty: Cell = None if joint.moves else ""
        beyond = use.beyond_rad if use else None
        cells |= {
            f"{axis}_deg": math.degrees(use.angles_rad[i]) if use else (None if joint.moves else 0.0),
            f"{axis}_low_deg": math.degrees(limit.low.angle_rad) if limit else empty,
            f"{axis}_low_stops_at": limit.low.reason if limit else empty,
            f"{axis}_high_deg": math.degrees(limit.high.angle_rad) if limit else empty,
            f"{axis}_high_stops_at": limit.high.reason if limit else empty,
            f"{axis}_beyond_deg": math.degrees(beyond[i]) if beyond is not None else empty,
        }
    inside = use.inside_rad if use else None
    cells["inside_deg"] = math.degrees(inside) if inside is not None else (None if joint.moves else "")
    return cells


def _error_cells(joint: Joint) -> dict[str, Cell]:
    """Standard errors of the frame that the surfaces told; a joint set by hand or fixed by the table has none."""
    uncertainty = joint.frame_uncertainty
    if uncertainty is None:
        return {"centre_standard_error_mm": "", "axes_standard_error_deg": "", "frame_rests_on": ""}
    centre, axes = uncertainty.centre_m, uncertainty.axes_rad
    return {
        "centre_standard_error_mm": None if centre is None else 1e3 * centre,
        "axes_standard_error_deg": None if axes is None else math.degrees(axes),
        "frame_rests_on": uncertainty.rests_on,
    }
