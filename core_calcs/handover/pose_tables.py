"""The tables of one pose, and the one that compares poses."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from ..site.site import Site
from ..skeleton.element import Element
from ..skeleton.joint import AXES, Joint
from ..skeleton.tree import Skeleton
from ..studies.assessment import SEVERITY, Assessment, ElementMass, JointLoad, JointUse
from ..studies.checks import count_outside
from .beam_table import tabulate_beams
from .tables import Cell, DataTable, table_of, vector_cells


def list_pose_tables(
    skeleton: Skeleton, site: Site, assessment: Assessment, files: Mapping[str, str]
) -> tuple[DataTable, ...]:
    """Every table of one pose.

    files : path of every element's posed mesh, by element
    """
    return (
        tabulate_elements(skeleton, assessment, files),
        tabulate_parts(assessment),
        tabulate_joints(skeleton, assessment),
        tabulate_beams(skeleton, assessment),
        tabulate_feet(assessment),
        tabulate_base(site, assessment),
        tabulate_edges(assessment),
        tabulate_checks(assessment),
        tabulate_hits(assessment),
    )


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
        "mass_doubt_kg": mass.mass_doubt_kg if mass else None,
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
            "mass_doubt_kg": part.mass_doubt_kg,
            "mass_from": "weighing" if part.weighed else "calculation",
            **vector_cells("centre", "m", part.centre_m),
            **_inertia_cells(part.inertia_kg_m2),
        }
        for part in assessment.parts
    ]
    heads: tuple[str, ...] = ("part", "kind", "carried_by", "mass_kg", "mass_doubt_kg", "mass_from")
    heads += tuple(vector_cells("centre", "m", None)) + tuple(_inertia_cells(np.zeros((3, 3))))
    return table_of("parts", rows, heads)


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
    return row | _angle_cells(joint, use) | told | _doubt_cells(joint) | _disc_cells(joint)


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


def _doubt_cells(joint: Joint) -> dict[str, Cell]:
    """Standard errors of the frame that the surfaces told; a joint set by hand or fixed by the table has none."""
    doubt = joint.frame_doubt
    if doubt is None:
        return {"centre_doubt_mm": "", "axes_doubt_deg": "", "frame_rests_on": ""}
    centre, axes = doubt.centre_m, doubt.axes_rad
    return {
        "centre_doubt_mm": None if centre is None else 1e3 * centre,
        "axes_doubt_deg": None if axes is None else math.degrees(axes),
        "frame_rests_on": doubt.rests_on,
    }


def tabulate_feet(assessment: Assessment) -> DataTable:
    """What the ground carries under each foot."""
    heads = ("foot", "bears", "force_N", "least_force_N", "greatest_force_N", "share_percent", "contact_points")
    weight = float(abs(assessment.base_force_N[2])) or math.nan
    rows: list[dict[str, Cell]] = []
    for foot in assessment.feet:
        least, greatest = foot.range_N or (None, None)
        bears = "yes" if foot.bears else "no"
        figures = (foot.force_N, least, greatest, None if foot.force_N is None else 100 * foot.force_N / weight)
        unloaded = foot.force_N == 0 and foot.centre_m is None
        centre = vector_cells("centre_of_pressure", "m", foot.centre_m)
        rows.append(
            dict(zip(heads, (foot.foot, bears, *figures, len(foot.points_m)), strict=True))
            | (dict.fromkeys(centre, "") if unloaded else centre)
        )
    return table_of("feet", rows, (*heads, *vector_cells("centre_of_pressure", "m", None)))


def tabulate_base(site: Site, assessment: Assessment) -> DataTable:
    """Weight, base force and moment, datum, support polygon and its edges: one quantity a row."""
    rows: list[dict[str, Cell]] = []

    def add(quantity: str, unit: str, value: Cell = "", vector: Sequence[float] | np.ndarray | None = None) -> None:
        cells: list[Cell] = ["", "", ""]
        if vector is not None:
            cells = [float(v) for v in vector] + [""] * (3 - len(vector))
        rows.append({"quantity": quantity, "unit": unit, "value": value, **dict(zip("xyz", cells, strict=True))})

    add("mass", "kg", assessment.mass_kg)
    add("mass, doubt", "kg", assessment.mass_doubt_kg)
    add("weight", "N", float(abs(assessment.base_force_N[2])))
    add("centre of mass", "m", "", assessment.centre_m)
    add("height of the ground", "m", site.ground_m)
    add("centre of mass, doubt", "m", "", assessment.doubts.centre_m)
    add("datum", "m", "", assessment.datum_m)
    add("base force on the ground", "N", "", assessment.base_force_N)
    add("base moment on the ground about the datum", "Nm", "", assessment.base_moment_Nm)
    for i, corner in enumerate(assessment.support_polygon_m, start=1):
        add(f"support polygon, corner {i}", "m", "", corner)
    for i, edge in enumerate(assessment.edges, start=1):
        add(f"edge {i}, start", "m", "", edge.start_m)
        add(f"edge {i}, end", "m", "", edge.end_m)
        add(f"edge {i}, distance of the centre of mass", "m", edge.distance_m)
        add(f"edge {i}, tip angle", "deg", math.degrees(edge.tip_angle_rad))
        add(f"edge {i}, energy margin", "J", edge.energy_J)
    tip = assessment.tip_angle_rad
    add("distance margin", "m", assessment.distance_margin_m)
    add("distance margin, doubt", "m", assessment.doubts.distance_margin_m)
    add("base moment, horizontal, doubt", "Nm", assessment.doubts.base_moment_Nm)
    add("tip angle", "deg", None if tip is None else math.degrees(tip))
    add("residual force at the root", "N", assessment.residual_N)
    add("residual moment at the root", "Nm", assessment.residual_Nm)
    return table_of("base", rows)


def tabulate_edges(assessment: Assessment) -> DataTable:
    """Every edge of the support polygon with its margin."""
    heads = (
        "edge",
        "start_x_m",
        "start_y_m",
        "end_x_m",
        "end_y_m",
        "length_m",
        "distance_m",
        "tip_angle_deg",
        "energy_margin_J",
    )
    rows = []
    for i, edge in enumerate(assessment.edges, start=1):
        ends = (*map(float, edge.start_m), *map(float, edge.end_m))
        length = float(np.linalg.norm(edge.end_m - edge.start_m))
        rows.append((i, *ends, length, edge.distance_m, math.degrees(edge.tip_angle_rad), edge.energy_J))
    return DataTable("edges", heads, tuple(rows))


def tabulate_checks(assessment: Assessment) -> DataTable:
    """Every question and its answer."""
    heads = ("check", "state", "figure", "limit", "unit", "place", "missing")
    rows = tuple((c.name, c.state, c.figure, c.limit, c.unit, c.place, c.missing) for c in assessment.checks)
    return DataTable("checks", heads, rows)


def tabulate_hits(assessment: Assessment) -> DataTable:
    """What runs into what: how much deeper than at neutral, how deep there already, what is allowed, and where."""
    heads = ("element", "other_element", "state", "depth_m", "neutral_m", "allowed_m")
    places = [f"{frame}_{axis}_m" for frame in ("place", "place_in_element", "place_in_other") for axis in "xyz"]
    rows: list[tuple[Cell, ...]] = []
    for hit in () if assessment.clearance is None else assessment.clearance.hits:
        figures = (*hit.elements, hit.state, hit.depth_m, hit.neutral_m, hit.allowed_m)
        rows.append((*figures, *map(float, hit.place_m), *map(float, hit.places_m.ravel())))
    return DataTable("hits", (*heads, *places), tuple(rows))


def compare_poses(assessments: Sequence[Assessment], folders: Mapping[str, str]) -> DataTable:
    """One row a pose: what decides between them.

    folders : of every pose, by name
    """
    rows = []
    for a in assessments:
        states = [check.state for check in a.checks]
        tip = a.tip_angle_rad
        worst = max(states, key=SEVERITY.index)
        row: dict[str, Cell] = {"pose": a.pose, "folder": folders[a.pose], "state": worst}
        row |= {"mass_kg": a.mass_kg, "mass_doubt_kg": a.mass_doubt_kg}
        row |= vector_cells("centre", "m", a.centre_m) | vector_cells("datum", "m", a.datum_m)
        row |= vector_cells("base_force", "N", a.base_force_N) | vector_cells("base_moment", "Nm", a.base_moment_Nm)
        row |= {"distance_margin_m": a.distance_margin_m, "tip_angle_deg": None if tip is None else math.degrees(tip)}
        row |= {"joints_beyond_limits": count_outside(a.uses)}
        row |= {"joints_limits_not_known": sum(use.beyond_rad is None for use in a.uses)}
        row |= {"pairs_in_each_other": None if a.clearance is None else len(a.clearance.failing)}
        row |= {f"checks_{s.replace(' ', '_')}": states.count(s) for s in ("holds", "close", "fails", "not known")}
        rows.append(row)
    return table_of("poses", rows)
