"""The report of one pose: one page that needs nothing beside itself."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from ..document.document import SkeletonDocument
from ..site.site import Site
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.transforms import Array
from ..studies.assessment import Assessment
from ..studies.beams import find_beams
from ..studies.column import list_column_joints
from ..studies.places_by_hand import describe_placed, list_placed
from . import report_sections as sections
from .casting_text import (
    describe_castings,
    describe_density,
    describe_materials,
    describe_metal,
    describe_pits,
    describe_weighings,
)
from .clearance_text import count_rest, describe_allowance, list_hits
from .figures import draw_elevations, draw_support_closely, draw_support_plan
from .mass_figure import SLICES, draw_mass_along, draw_masses
from .moment_figure import draw_moments
from .pages import render_page
from .part_text import describe_parts
from .pieces import list_pieces
from .quantities import format_figure, format_setting
from .record_text import list_mounted, list_records
from .report_balance import list_acting, list_case_lines, list_needs, list_reaction_lines, name_worst, tell_limits
from .report_beams import list_beam_parts, list_peaks
from .report_joints import list_moving_joints
from .report_mass import describe_origin, list_greatest_pieces, list_inertia, list_series_masses
from .report_sentences import (
    describe_discs,
    describe_facets,
    describe_left_out,
    describe_limits,
    describe_straddling,
    describe_surfaces,
)
from .report_worst import list_worst_beams, list_worst_joints, tell_actions, tell_expressions, tell_missing
from .rose_figure import allows_none, draw_rose
from .site_text import list_site


@dataclass(frozen=True, eq=False)
class Outline:
    """Points (k, 3) on the skeleton's surface in the pose [m], and the size of the cells to gather them in [m]."""

    points_W: Array
    cell_m: float


def render_report(
    document: SkeletonDocument, pose: Pose, assessment: Assessment, outline: Outline, made: datetime
) -> str:
    """The report as HTML.

    Parameters
    ----------
    made : when, in UTC
    """
    skeleton, site, build = document.skeleton, document.site, document.build
    joints, moment_unit = list_moving_joints(skeleton, assessment)
    return render_page(
        "report.html",
        running=f"{skeleton.name}, pose “{pose.name}”, {made:%Y-%m-%d}. Preliminary.",
        skeleton=skeleton,
        pose=pose,
        made=f"{made:%Y-%m-%d %H:%M} UTC",
        key_figures=sections.list_key_figures(assessment, site),
        checks=sections.list_checks(assessment),
        plan=draw_support_plan(assessment, site, outline.points_W, outline.cell_m, "plan"),
        support=draw_support_closely(assessment, "support"),
        elevations=draw_elevations(assessment, site, outline.points_W, outline.cell_m, "views"),
        moments=draw_column_moments(skeleton, assessment),
        **_fill_mass(skeleton, assessment),
        **_fill_acting(site, assessment),
        **_fill_beams(skeleton, site, assessment),
        hits=list_hits(assessment.clearance),
        more_hits=count_rest(assessment.clearance),
        clearance_allowed=describe_allowance(site),
        feet=sections.list_feet(assessment),
        edges=sections.list_edges(assessment),
        base=sections.list_base(assessment),
        joints=joints,
        moment_unit=moment_unit,
        fixed=sum(not joint.moves for joint in skeleton.joints),
        anchored=describe_anchored(site),
        surfaces=describe_surfaces(skeleton),
        limits=(*describe_limits(skeleton), *describe_facets(skeleton)),
        placed=[*describe_places(skeleton), *describe_straddling(skeleton), *describe_discs(skeleton)],
        left_out=describe_left_out(skeleton),
        material=build.material,
        density=describe_density(build),
        castings=describe_castings(skeleton, build),
        metal=describe_metal(skeleton, assessment.masses),
        pits=describe_pits(assessment.masses),
        materials=describe_materials(build),
        parts=describe_parts(skeleton, build, assessment.parts),
        weighings=describe_weighings(assessment.masses),
        scale_uncertainty=f"{100 * build.scale_uncertainty_share:g} %" if build.scale_uncertainty_share else "",
        tolerance=format_setting(site.contact_tolerance_m * 1000, "mm"),
        reserve=format_setting(site.reserve_m * 1000, "mm"),
        datum=describe_datum(skeleton, site, assessment),
        residual=describe_residual(assessment),
        assessment=assessment,
        mounted=[(pose.name, pose.note, list_mounted(skeleton, pose))] if pose.mounted else [],
        records=list_records(document.records),
    )


def _fill_mass(skeleton: Skeleton, assessment: Assessment) -> dict[str, object]:
    pieces = list_pieces(skeleton, assessment)
    known = sum(piece.mass_kg for piece in pieces) > 0
    return {
        "masses": draw_masses(pieces, "masses") if known else None,
        "along": draw_mass_along(pieces, float(assessment.centre_m[0]), "along") if known and len(pieces) > 1 else None,
        "slices": SLICES,
        "series": list_series_masses(pieces, assessment),
        "greatest": list_greatest_pieces(pieces, assessment.mass_kg),
        "weighed": describe_origin(pieces),
        "inertia": list_inertia(assessment),
    }


def _fill_acting(site: Site, assessment: Assessment) -> dict[str, object]:
    balance = assessment.balance
    filled: dict[str, object] = {"balance": balance, "factors": site.factors, "limits_of_use": tell_limits()}
    if balance is None:
        return filled
    rose = None
    if balance.rose is not None and balance.allowed_N is not None:
        rose = draw_rose(balance.rose, balance.allowed_N, "rose")
    return filled | {
        "rose": rose,
        "rose_allows_none": balance.allowed_N is not None and allows_none(balance.allowed_N),
        "acting": (*list_acting(site), *list_site(site)),
        "cases": list_case_lines(balance),
        "worst_name": name_worst(balance),
        "reactions": list_reaction_lines(balance.cases[balance.worst]),
        "needs": tuple(list_needs(balance)),
    }


def _fill_beams(skeleton: Skeleton, site: Site, assessment: Assessment) -> dict[str, object]:
    beams = find_beams(skeleton, assessment)
    shared = any(beam.shared.any() for beam in beams)
    filled = {"beams": list_beam_parts(beams), "beams_shared": shared, "peaks": list_peaks(beams)}
    joints, moment_unit, force_unit = list_worst_joints(skeleton, assessment)
    return filled | {
        "worst_missing": tell_missing(assessment),
        "worst_actions": tell_actions(site),
        "worst_expressions": tell_expressions(site.factors),
        "worst_beams": list_worst_beams(assessment, beams),
        "worst_joints": joints,
        "worst_moment_unit": moment_unit,
        "worst_force_unit": force_unit,
    }


def describe_anchored(site: Site) -> str:
    """Which feet can be pulled at."""
    feet = [footing.foot for footing in site.footings if footing.anchored]
    return f"Anchored: {', '.join(feet)}." if feet else "Nothing is anchored."


def draw_column_moments(skeleton: Skeleton, assessment: Assessment) -> str | None:
    """The figure of the moments along the column; None where the skeleton has none."""
    column = list_column_joints(skeleton)
    series = {element.name: element.series for element in skeleton.elements}
    loads = {load.child: load for load in assessment.joints}
    shown = [name for name in (*reversed(column.backward), *reversed(column.forward)) if name in loads]
    if not shown:
        return None
    return draw_moments([loads[name] for name in shown], [series[name] for name in shown], "moments")


def describe_places(skeleton: Skeleton) -> list[str]:
    """What was placed by hand, how far from its scan, and why."""
    return [f"{own.element} was placed by hand, {describe_placed(own)}" for own in list_placed(skeleton)]


def describe_datum(skeleton: Skeleton, site: Site, assessment: Assessment) -> str:
    """Which point base moments are taken about."""
    if site.datum_m is not None:
        return "as given for the site"
    corners = len(assessment.support_polygon_m)
    if corners:
        return "the middle of the support polygon" if corners > 2 else "the middle of the points it stands on"
    return f"on the ground below the centre of mass of {skeleton.root.name}"


def describe_residual(assessment: Assessment) -> str | None:
    """What is left of equilibrium at the root as a share of the weight; None where it is not known."""
    weight = float(abs(assessment.base_force_N[2]))
    if assessment.residual_N is None or not weight:
        return None
    return format_figure(abs(assessment.residual_N) / weight)
