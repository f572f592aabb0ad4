"""Joints of the column, those of the skull and the first two vertebrae among them, which are built in other ways.

Where two neighbours do not face each other with end plates as they are placed, the surfaces may still tell a joint: a
peg in a ring (a pivot, as between atlas and axis) or paired condyles that turn about one axis across the animal (as
between skull and atlas). Nothing goes by names.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..skeleton.joint import AxisLimit, DiscThickness, Joint, LimitSettings
from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import Array, make_transform
from .column import ColumnAxes
from .column_joint import ASKS_FOR_HAND, attach_fixed, make_column_joint
from .covering import Covering
from .facet_cores import search_cores
from .facets import Patch, find_facets
from .families import Family, choose_family
from .fit_uncertainty import in_mm
from .fits import Fit
from .frames import JointFrame
from .limb_covering import prepare_curved_contact
from .limb_facets import Facing, find_cores, looks_outwards
from .limb_joint import HELD, find_family_uncertainty, list_facets, record_fit
from .limits import find_limit, prepare_coverings, prepare_trial
from .partner import Partner
from .patches import Index
from .pivots import find_peg, find_peg_uncertainty, find_shoulders

_ACROSS = float(np.cos(np.radians(20)))
"""Condyles turn about the animal's left to within this."""
_MIRRORED_S = 0.1
"""Pieces on either side are mirror images to within this share of s."""


def find_axial_joint(
    parent: Partner,
    child: Partner,
    axes: ColumnAxes,
    child_headward: bool,
    settings: LimitSettings,
    placed: JointFrame | None = None,
    disc: DiscThickness | None = None,
    progress: Progress = ignore_progress,
) -> Joint:
    """The joint between two neighbours of the column, the skull included, of whatever kind its surfaces tell.

    placed : the frame that the user has given it; None: the one that its facets tell
    disc : the thickness that was set for its disc, between end plates; None: as the gap is

    Raises
    ------
    SkeletonError : no disc can be so thick there, or it has no end plates
    """
    ends = Ends(parent, child, axes, child_headward, settings, placed)
    apart = not search_cores(ends.headward, ends.tailward, axes, 0.0).area_s2("centrum") > 0
    pivot = _find_pivot(ends) if apart and disc is None else None
    if pivot is not None:
        return pivot
    found = find_facets(ends.headward, ends.tailward, axes)
    condyles = _find_condyles(ends) if apart and disc is None and len(found.pairs) <= 1 else None
    return condyles or make_column_joint(parent, child, found, axes, child_headward, settings, placed, disc, progress)


@dataclass(frozen=True, eq=False)
class Ends:
    """Two neighbours of the column and what their joint is looked for with."""

    parent: Partner
    child: Partner
    axes: ColumnAxes
    child_headward: bool
    settings: LimitSettings
    placed: JointFrame | None

    @property
    def headward(self) -> Partner:
        """The one towards the head."""
        return self.child if self.child_headward else self.parent

    @property
    def tailward(self) -> Partner:
        """The other."""
        return self.parent if self.child_headward else self.child


def _find_pivot(ends: Ends) -> Joint | None:
    """Turns about a peg alone, at the height of the paired facets: what closes the ring behind a peg is no bone."""
    peg = find_peg(ends.headward, ends.tailward, ends.axes)
    if peg is None:
        return None
    on_parent = find_shoulders(peg, ends.parent, ends.child, ends.axes)
    on_child = find_shoulders(peg, ends.child, ends.parent, ends.axes)
    if on_parent is None or on_child is None:
        return None
    pairs = tuple(
        (_as_patch(ends.parent, ends.child, one), _as_patch(ends.child, ends.parent, other))
        for one, other in zip(on_parent, on_child, strict=True)
    )
    middles = [patch.points.mean(axis=0) for pair in pairs for patch in pair]
    centre = peg.place + peg.axis * float((np.mean(middles, axis=0) - peg.place) @ peg.axis)
    frame = ends.placed or _make_frame(centre, peg.axis, ends.axes.left, ends.child_headward)
    coverings = prepare_coverings(pairs, min(ends.parent.size, ends.child.size))
    limits = HELD, HELD, _find_limit(ends, coverings, frame, 2)
    facets = tuple(patch.as_facet() for pair in pairs for patch in pair)
    reason = (
        f"paired facets, and a peg of {peg.element.name} in a ring: a pivot; turns about the peg, mean radius "
        f"{in_mm(peg.radius)} mm, off by {in_mm(peg.residual)} mm"
    )
    return Joint(
        ends.parent.name, ends.child.name, "column", frame.X_WJ, frame.senses, limits, facets, "found", reason,
        ends.settings, frame_uncertainty=find_peg_uncertainty(peg) if ends.placed is None else None,
    )  # fmt: skip


def _as_patch(element: Partner, partner: Partner, index: Index) -> Patch:
    points = element.samples.points[index]
    return Patch("articular surface", element, index, float(partner.grid.distances(points).mean()))


def _find_condyles(ends: Ends) -> Joint | None:
    """A joint by paired condyles; fixed where they are in doubt; None where what is paired is no pair of condyles."""
    on_parent, on_child = find_cores(ends.parent, ends.child), find_cores(ends.child, ends.parent)
    if on_parent is None or on_child is None:
        return None
    standing_out, partner = sorted((on_parent, on_child), key=looks_outwards, reverse=True)
    if not _lie_mirrored(standing_out, ends.axes):
        return None
    family = choose_family(standing_out, partner)
    fit = family.fit
    if fit is None or fit.shape != "revolution" or abs(fit.axes[0] @ ends.axes.left) < _ACROSS:
        return None
    facets, record = list_facets(family), record_fit(family)
    contact = prepare_curved_contact(family, family.partner.bone is ends.child)
    objections = "; ".join(family.objections) or ("its facets do not lie over each other" if contact is None else "")
    names, points = (ends.parent.name, ends.child.name), (ends.parent.samples.points, ends.child.samples.points)
    if objections or contact is None:
        fixed = attach_fixed(*names, *points, f"paired condyles fit best, but {objections}{ASKS_FOR_HAND}")
        return replace(
            fixed, facets=facets, confidence="ambiguous", fit=record, frame_uncertainty=find_family_uncertainty(family)
        )
    frame = ends.placed or _frame_condyles(fit, family, ends)
    limits = _find_limit(ends, (contact,), frame, 0), HELD, HELD
    reason = (
        f"paired condyles on {family.on.bone.name}: radius {in_mm(float(fit.radii[0]))} mm, off by "
        f"{in_mm(fit.residual)} mm; standard error of the centre {in_mm(family.centre_uncertainty)} mm"
    )
    return Joint(
        *names, "column", frame.X_WJ, frame.senses, limits, facets, "found", reason, ends.settings, record,
        frame_uncertainty=find_family_uncertainty(family) if ends.placed is None else None,
    )  # fmt: skip


def _lie_mirrored(facing: Facing, axes: ColumnAxes) -> bool:
    """Whether a bone faces its partner by two pieces that are mirror images in its own middle plane."""
    if len(facing.pieces) != 2:
        return False
    left, right = (facing.bone.samples.points[piece].mean(axis=0) - facing.bone.centre for piece in facing.pieces)
    mirrored = right - 2 * axes.left * float(right @ axes.left)
    return float(np.linalg.norm(mirrored - left)) <= _MIRRORED_S * facing.bone.size


def _find_limit(ends: Ends, coverings: tuple[Covering, ...], frame: JointFrame, axis: int) -> AxisLimit:
    trial = prepare_trial(ends.parent, ends.child, coverings, frame.X_WJ, frame.senses, ends.settings)
    return find_limit(trial, axis, ends.settings.search_rad)


def _frame_condyles(fit: Fit, family: Family, ends: Ends) -> JointFrame:
    """Frame about the condyles' axis, its origin between the two."""
    across = fit.axes[0] * np.sign(fit.axes[0] @ ends.axes.left)
    middle = family.on.bone.samples.points[np.concatenate(family.pieces)].mean(axis=0)
    centre = fit.places[0] + across * float((middle - fit.places[0]) @ across)
    along = ends.axes.head - across * float(ends.axes.head @ across)
    return _make_frame(centre, along / np.linalg.norm(along), across, ends.child_headward)


def _make_frame(centre: Array, head: Array, left: Array, child_headward: bool) -> JointFrame:
    """A frame as of any joint of the column (see `frames`), y along a unit direction towards the head."""
    sign = 1.0 if child_headward else -1.0
    y = sign * head
    x = sign * (left - head * float(left @ head))
    x /= np.linalg.norm(x)
    X_WJ = make_transform(np.column_stack([x, y, np.cross(x, y)]), centre)
    return JointFrame(X_WJ, (1, -1 if child_headward else 1, 1), "")
