"""The questions that a study of one pose answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..site.site import Site
from ..spatial.transforms import Array
from ..statics.contacts import Contacts
from ..statics.supports import Supports, list_supports
from .assessment import Check, Edge, FootLoad, JointUse, State
from .balance_checks import check_overturning, check_sliding, hold_by_anchors
from .balance_figures import Balance
from .clearance import Clearance
from .loads import Carried
from .prepared import Prepared

RESIDUAL_LIMIT = 1e-9
"""What may be left of equilibrium, as a share of the weight (and of weight × size)."""

OPEN_RESERVE_PERCENT = 2.0
"""Up to this uncertainty of the whole volume open meshes are `close`: no more than the densities have of themselves."""

ANGLE_ROUNDING_RAD = 1e-4
"""Angles this little (0.006°) beyond a limit are at it: what the constraints of a single-precision rig leave."""

ONLY_TOGETHER = "inside each limit, outside what they allow together"
"""What is said of a joint whose axes go too far together, none of them alone."""

CLEARANCE = "Nothing runs into another"
"""Name of the check of clearance."""

TIE_M = 1e-9
"""Lengths this close are the same: of mirrored places the first is named, whatever the rounding."""


@dataclass(frozen=True, eq=False)
class Findings:
    """What the checks look at beside the named results.

    motions : (n, 4, 4) from the neutral articulation to the pose
    points_m : (c, 3) every point of the feet in the pose
    corners : indices of the contacts at the corners of the support polygon
    idle : indices of the feet that bear nothing in this pose
    clearance : what runs into what; None where nobody has looked
    """

    prepared: Prepared
    site: Site
    motions: Array
    points_m: Array
    centre_m: Array
    contacts: Contacts
    corners: np.ndarray
    idle: tuple[int, ...]
    clearance: Clearance | None = None


def make_checks(
    findings: Findings,
    edges: tuple[Edge, ...],
    feet: tuple[FootLoad, ...],
    uses: tuple[JointUse, ...],
    carried: Carried,
    balance: Balance | None = None,
    unknown: Sequence[str] = (),
) -> tuple[Check, ...]:
    """All checks, in the order in which they are shown.

    balance : None where it stands on no polygon
    unknown : what is said to act on it, but not known with how much
    """
    missing = _tell_missing_support(findings, edges)
    if not missing and carried.reactions is None:
        missing = "balance: the centre of mass is on the very edge of the support polygon"
    supports = list_supports([foot.name for foot in findings.prepared.skeleton.feet], findings.site.footings)
    return (
        hold_by_anchors(check_standing(findings, edges, missing), feet, supports),
        check_overturning(balance, unknown, missing),
        check_sliding(balance, unknown, missing),
        check_range(uses),
        check_clearance(findings.clearance),
        hold_by_anchors(check_feet(feet, carried, missing), feet, supports),
        check_ground(findings, supports),
        check_equilibrium(findings, carried, missing),
        check_meshes(findings),
    )


def _tell_missing_support(findings: Findings, edges: tuple[Edge, ...]) -> str:
    """What would have to be there for the feet to carry; empty where all is."""
    if not findings.prepared.skeleton.feet or not len(findings.points_m):
        return "feet: the skeleton names no point that may touch the ground"
    if not len(findings.contacts.points_m):
        bearing = ~np.isin(findings.prepared.contacts.foot, findings.idle)
        if not bearing.any():
            return "a foot that bears: the pose lets none"
        height = (findings.points_m[:, 2] - _find_own_ground(findings))[bearing].min()
        return f"contact with the ground: the lowest foot is {height * 1000:.1f} mm above it"
    if len(findings.corners) == 1:
        return "a support polygon: it stands on one point"
    if not edges:
        return "a support polygon: all contact points lie in one line"
    if min(edge.distance_m for edge in edges) < 0:
        return "balance: the centre of mass is outside the support polygon"
    return ""


def check_standing(findings: Findings, edges: tuple[Edge, ...], missing: str) -> Check:
    """Whether the centre of mass is over the support polygon, and by how much."""
    name, unit, site = "Stands", "m", findings.site
    if not len(findings.contacts.points_m):
        return Check(name, "not known", None, 0.0, unit, "", missing)
    feet = [findings.prepared.skeleton.feet[findings.contacts.foot[i]].name for i in findings.corners]
    if not edges:
        # On a line or a point nothing keeps it upright, however well the centre is placed.
        ends = findings.contacts.points_m[findings.corners, :2]
        away = _measure_from_segment(findings.centre_m[:2], ends[0], ends[-1])
        place = " – ".join(dict.fromkeys(feet))
        shape = "one point" if len(findings.corners) == 1 else "points in one line"
        meaning = f"it stands on {shape} only: nothing keeps it from tipping"
        return Check(name, "fails", -away, 0.0, unit, place, missing, meaning)
    worst = _find_worst_edge(findings, edges)
    margin = edges[worst].distance_m
    state: State = "fails" if margin <= TIE_M else "close" if margin < site.reserve_m else "holds"
    place = " – ".join(dict.fromkeys([feet[worst], feet[(worst + 1) % len(feet)]]))
    outside = ""
    if margin < -TIE_M:
        outside = f"the centre of mass stands {_word_length(-margin)} outside the feet: it tips"
    elif margin <= TIE_M:
        outside = "the centre of mass stands over the edge of the feet: nothing keeps it from tipping"
    return Check(name, state, margin, 0.0, unit, place, meaning=outside)


def _find_worst_edge(findings: Findings, edges: tuple[Edge, ...]) -> int:
    least = min(edge.distance_m for edge in edges)
    tied = [i for i, edge in enumerate(edges) if edge.distance_m <= least + TIE_M]
    ends = {i: sorted((findings.corners[i], findings.corners[(i + 1) % len(edges)])) for i in tied}
    return min(tied, key=lambda i: ends[i])


def _word_length(length_m: float) -> str:
    return f"{length_m * 1000:.0f} mm" if length_m >= 0.0095 else f"{length_m * 1000:.2g} mm"


def _measure_from_segment(point: Array, start: Array, end: Array) -> float:
    along = end - start
    length2 = float(along @ along)
    share = min(max(float((point - start) @ along) / length2, 0.0), 1.0) if length2 > 0 else 0.0
    return float(np.linalg.norm(point - start - share * along))


def check_range(uses: tuple[JointUse, ...]) -> Check:
    """Whether every joint is inside its bony range, its axes together; the figure is how far outside the worst is."""
    name, unit = "Joints inside the bony range", "deg"
    outside = [use for use in uses if lies_outside(use)]
    unknown = [
        use.child
        for use in uses
        if use.inside_rad is None and max(map(abs, use.angles_rad.tolist())) > ANGLE_ROUNDING_RAD
    ]
    if outside:
        worst = min(outside, key=lambda use: use.inside_rad or 0.0)
        far = float(np.degrees(-(worst.inside_rad or 0.0)))
        meaning = ONLY_TOGETHER if lies_outside_together(worst) else ""
        return Check(name, "fails", far, 0.0, unit, worst.child, meaning=meaning)
    if unknown:
        return Check(name, "not known", None, 0.0, unit, unknown[0], f"limits of {_list_names(unknown)}")
    return Check(name, "holds", 0.0, 0.0, unit, "", meaning="no joint is outside")


def check_clearance(clearance: Clearance | None) -> Check:
    """Whether no element runs into another, deeper than at neutral and than is allowed."""
    name, unit = CLEARANCE, "m"
    if clearance is None:
        missing = "the elements' surfaces: clearance has not been checked in this pose"
        return Check(name, "not known", None, 0.0, unit, "", missing)
    if not clearance.hits:
        return Check(name, "holds", 0.0, 0.0, unit, "", meaning="no two elements do, deeper than at neutral")
    worst, more = clearance.hits[0], len(clearance.failing) - 1
    others = f" and {more} more" if more > 0 else ""
    return Check(name, worst.state, worst.depth_m, worst.allowed_m, unit, " – ".join(worst.elements) + others)


def lies_outside(use: JointUse) -> bool:
    """Whether a joint is outside its bony range: beyond a limit, or beyond what its axes allow together."""
    return use.inside_rad is not None and use.inside_rad < -ANGLE_ROUNDING_RAD


def lies_outside_together(use: JointUse) -> bool:
    """Whether a joint is outside its bony range although each of its axes is within its own limits."""
    return lies_outside(use) and bool((np.asarray(use.beyond_rad) <= ANGLE_ROUNDING_RAD).all())


def count_outside(uses: Sequence[JointUse]) -> int:
    """How many joints are outside their bony range: beyond a limit, or beyond what their axes allow together."""
    return sum(map(lies_outside, uses))


def check_feet(feet: tuple[FootLoad, ...], carried: Carried, missing: str) -> Check:
    """Whether every foot that touches the ground presses on it."""
    name, unit = "Feet on the ground bear load", "N"
    standing = [foot for foot in feet if len(foot.points_m)]
    loads = [(foot.force_N, foot.foot) for foot in standing if foot.force_N is not None]
    if not loads:
        return Check(name, "not known", None, 0.0, unit, "", missing)
    least = min(force for force, _ in loads)
    place = next(foot for force, foot in loads if force <= least + RESIDUAL_LIMIT * carried.weight_N)
    if least > RESIDUAL_LIMIT * carried.weight_N:
        return Check(name, "holds", least, 0.0, unit, place)
    return Check(name, "fails", least, 0.0, unit, place, meaning="it touches the ground but carries nothing")


def _find_own_ground(findings: Findings) -> Array:
    """Height (c,) of the ground under the foot of every point that may touch it."""
    supports = list_supports([foot.name for foot in findings.prepared.skeleton.feet], findings.site.footings)
    ground: Array = findings.site.ground_m + supports.height_m[findings.prepared.contacts.foot]
    return ground


def check_ground(findings: Findings, supports: Supports) -> Check:
    """Whether anything is below the ground.

    Elements are judged by the lowest corner of their bounding box: exact where the box stands upright, else no higher
    than the surface; tilted ones that are feet, and feet on ground of their own height, by the points marked on them.
    What is no foot may be as low as the lowest ground that a foot has.
    """
    name, unit, limit = "Nothing below the ground", "m", -findings.site.contact_tolerance_m
    heights, exact = _find_lowest(findings, supports)
    lowest = _find_first_lowest(heights)
    place = findings.prepared.skeleton.elements[lowest].name
    sure = np.where(exact, heights, np.inf)
    if sure.min() < limit:
        place = findings.prepared.skeleton.elements[_find_first_lowest(sure)].name
        return Check(name, "fails", float(sure.min()), limit, unit, place)
    if heights[lowest] < limit:
        low = [findings.prepared.skeleton.elements[i].name for i in np.flatnonzero(heights < limit)]
        missing = f"the surface of {_list_names(low)}: only a corner of the bounding box is known to be below"
        return Check(name, "not known", float(heights[lowest]), limit, unit, place, missing)
    return Check(name, "holds", float(heights[lowest]), limit, unit, place)


def _find_first_lowest(heights: Array) -> int:
    return int(np.flatnonzero(heights <= heights.min() + TIE_M)[0])


def _find_lowest(findings: Findings, supports: Supports) -> tuple[Array, np.ndarray]:
    """Lowest height (n,) of every element above the ground, or a bound below it, and (n,) whether that is exact."""
    prepared = findings.prepared
    X = findings.motions @ prepared.X_WE
    up = X[:, 2, :3]
    heights = X[:, 2, 3] + np.minimum(up * prepared.lower_m, up * prepared.upper_m).sum(axis=1)
    heights = heights - findings.site.ground_m - min(float(supports.height_m.min(initial=0.0)), 0.0)
    upright = np.abs(up).max(axis=1) > 1 - 1e-12
    feet, body = np.full(len(heights), np.inf), prepared.contacts.body
    np.minimum.at(feet, body, findings.points_m[:, 2] - _find_own_ground(findings))
    uneven = np.zeros(len(heights), bool)
    uneven[body[supports.height_m[prepared.contacts.foot] != 0]] = True
    marked = np.isfinite(feet)
    return np.where(marked & (~upright | uneven), feet, heights), upright | marked


def check_equilibrium(findings: Findings, carried: Carried, missing: str) -> Check:
    """Own check: what is left at the root, and whether every cut is the same from both sides."""
    name, unit = "Equilibrium", "of the weight"
    if carried.weight_N <= 0:
        return Check(name, "not known", None, RESIDUAL_LIMIT, unit, "", "the weight: no element has any volume")
    if carried.residual_N is None or carried.residual_Nm is None:
        between = int((~carried.known[1:]).sum())
        if between:
            joints = "joint" if between == 1 else "joints"
            missing += f"; without it the loads of {between} {joints} between the feet are not known"
        return Check(name, "not known", None, RESIDUAL_LIMIT, unit, "", missing)
    left = max(carried.residual_N, carried.residual_Nm / carried.size_m) / carried.weight_N
    figure = max(left, carried.cut_error)
    root = findings.prepared.skeleton.root.name
    if figure <= RESIDUAL_LIMIT:
        return Check(name, "holds", figure, RESIDUAL_LIMIT, unit, root, meaning="balanced to rounding")
    meaning = "the calculation contradicts itself: do not use these figures, and report it"
    return Check(name, "fails", figure, RESIDUAL_LIMIT, unit, root, meaning=meaning)


def check_meshes(findings: Findings) -> Check:
    """How much of the whole volume is uncertain because surfaces are not closed."""
    name, unit = "Meshes closed", "% of the volume"
    prepared = findings.prepared
    if prepared.volume_m3 <= 0:
        return Check(name, "not known", None, 0.0, unit, "", "the volume of any element")
    figure = float(100 * prepared.volume_error_m3.sum() / prepared.volume_m3)
    if not prepared.faulty.any():
        return Check(name, "holds", figure, 0.0, unit, "", meaning="every surface is closed")
    worst = int(np.argmax(np.where(prepared.faulty, prepared.volume_error_m3, -np.inf)))
    state: State = "close" if figure <= OPEN_RESERVE_PERCENT else "fails"
    return Check(name, state, figure, 0.0, unit, prepared.skeleton.elements[worst].name)


def _list_names(names: list[str]) -> str:
    shown = ", ".join(names[:3])
    return shown if len(names) <= 3 else f"{shown} and {len(names) - 3} more"
