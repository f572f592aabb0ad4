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
from .figures import draw_elevations, draw_support_plan
from .moment_figure import draw_moments
from .pages import render_page
from .part_text import describe_parts
from .quantities import format_figure, format_setting
from .record_text import list_mounted, list_records
from .report_joints import list_moving_joints
from .report_sentences import (
    describe_discs,
    describe_facets,
    describe_left_out,
    describe_limits,
    describe_straddling,
    describe_surfaces,
)


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
        elevations=draw_elevations(assessment, site, outline.points_W, outline.cell_m, "views"),
        moments=draw_column_moments(skeleton, assessment),
        hits=list_hits(assessment.clearance),
        more_hits=count_rest(assessment.clearance),
        clearance_allowed=describe_allowance(site),
        feet=sections.list_feet(assessment),
        edges=sections.list_edges(assessment),
        base=sections.list_base(assessment),
        joints=joints,
        moment_unit=moment_unit,
        fixed=sum(not joint.moves for joint in skeleton.joints),
        series=sections.list_series_masses(skeleton, assessment),
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
        scale_doubt=f"{100 * build.scale_doubt_share:g} %" if build.scale_doubt_share else "",
        tolerance=format_setting(site.contact_tolerance_m * 1000, "mm"),
        reserve=format_setting(site.reserve_m * 1000, "mm"),
        datum=describe_datum(skeleton, site, assessment),
        residual=describe_residual(assessment),
        assessment=assessment,
        mounted=[(pose.name, pose.note, list_mounted(skeleton, pose))] if pose.mounted else [],
        records=list_records(document.records),
    )


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
