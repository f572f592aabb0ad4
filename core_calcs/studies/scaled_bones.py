"""A missing bone made of its neighbour in the row: scaled to what its neighbours let expect, and put between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from ..articulation.mirror_plane import find_mirror_plane
from ..articulation.room import Fitted, fit_between
from ..articulation.row_places import RowMember, RowPlace, expect_place, find_place
from ..document.document import SkeletonDocument
from ..document.meshes import require_files
from ..inspection.arrangement import COLUMN
from ..mesh.surface import Surface
from ..mesh.transformed import transform_surface
from ..skeleton.element import Element
from ..skeleton.joint import Joint, LimitSettings
from ..skeleton.tree import Skeleton
from ..spatial.errors import SkeletonError
from ..spatial.progress import Progress
from ..spatial.transforms import Array
from .new_bones import (
    BoneOrder,
    MadeBone,
    fix_again,
    keep_or_look,
    list_above,
    look_for,
    read_placed,
    tell_chain,
    tell_source,
)
from .rows import Row, find_beyond, find_row, infer_position, joint_between, list_discs_m, measure_member
from .searched_joints import name_hand

_ALONG = ("long", "wide", "high")
_WIDE = 1.25
"""So many steps of those beside them stand two apart between which one is missing, at least."""
_LIKE_SIZE = 1.3
"""A vertebra of the next series has a say on size and place where its radius is within this of its neighbour's."""


@dataclass(frozen=True, eq=False)
class _Gap:
    """Where a bone goes.

    row : as it is numbered with the bone; number : of the bone in it
    chain : whether those of the row hang on one another, as vertebrae do
    before, after : neighbours towards the head and the tail, in a chain also those of another series; None at an end
    numbered_on : positions of those that make room for it in the numbering
    """

    row: Row
    number: int
    chain: bool
    before: Element | None
    after: Element | None
    numbered_on: dict[str, int]

    @property
    def ends(self) -> list[Element]:
        """The neighbours that are there."""
        return [own for own in (self.before, self.after) if own is not None]

    def misses(self, neighbour: Element) -> int:
        """How many are missing between the bone and a neighbour."""
        if neighbour.series != self.row.series:
            return 0
        return abs((neighbour.position or 0) - self.number) - 1


def scale_bone(scanned: SkeletonDocument, mesh_folder: Path, order: BoneOrder, progress: Progress) -> MadeBone:
    """A bone made of one in its row, in a document whose discs have been taken out.

    It gets the source's shape, each of its three lengths (along the row, across, and up) what its neighbours let
    expect; a vertebra between two whose end plates are found is made as long as their room allows, with discs as thick
    as those beside. Where the number asked for is held, those of the column from it on are numbered on by one.

    Raises
    ------
    SkeletonError : its number is not known or held already; it has no neighbours to go by; there is no room for it;
        what it hangs on is not known
    DocumentError : files of source and neighbours are not as recorded
    """
    skeleton = scanned.skeleton
    source = skeleton.elements[skeleton.index(order.source)]
    gap = _find_gap(skeleton, order, source)
    joints = _find_joints(skeleton, order, gap, source)
    require_files([source, *gap.ends], mesh_folder)
    plane = find_mirror_plane(skeleton.elements)
    members = _list_members(gap)
    if gap.chain:
        _require_step(members, gap.number)
    place, own = expect_place(members, gap.number, plane.normal), find_place(members, source.name, plane.normal)
    progress(f"scaling {source.name}", 0.05)
    X, factors = _scale(own, place)
    surface = transform_surface(read_placed(source, mesh_folder), X)
    fitted, disc_m = _fit(skeleton, mesh_folder, gap, surface, place)
    if fitted is not None:
        surface, factors = transform_surface(surface, fitted.X), factors * (fitted.stretch, 1, 1)
    times = ", ".join(f"{factor:.3f} times as {word}" for factor, word in zip(factors, _ALONG, strict=True))
    what = f"scaled of {source.name}, {times}"
    if gap.numbered_on:
        what += f"; number {gap.number}, {', '.join(gap.numbered_on)} numbered on by one"
    told = _tell_place(gap, members, fitted, disc_m)
    evidence = "; ".join(filter(None, (told, tell_source(source), tell_chain(skeleton, source))))
    return MadeBone(surface, source, gap.number, source.side, joints, skeleton.feet, what, evidence, gap.numbered_on)


def _find_gap(skeleton: Skeleton, order: BoneOrder, source: Element) -> _Gap:
    row = find_row(skeleton, source)
    if source.position is None:
        what = "it has no number, so that it stands in no row"
        raise SkeletonError(source.name, what, "mirror a bone instead, or give the row positions in the table")
    number = order.position if order.position is not None else infer_position(row, order.name)
    if number is None or number < 1:
        what = f"its name does not say which number of {row.series} it is"
        raise SkeletonError(order.name, what, "give its position")
    chain = any(joint_between(skeleton, *pair) for pair in pairwise(row.elements))
    held = next((own.name for own in row.elements if own.position == number), None)
    numbered_on: dict[str, int] = {}
    if held is not None:
        if not (chain and order.position is not None):
            what = f"number {number} of {row.series} is held by {held}"
            raise SkeletonError(order.name, what, "choose a number that is free, or mirror a bone instead")
        numbered_on = {own.name: own.position + 1 for own in row.elements if own.position and own.position >= number}
        row = Row(
            row.series, tuple(replace(own, position=numbered_on.get(own.name, own.position)) for own in row.elements)
        )
    before = [own for own in row.elements if (own.position or 0) < number]
    after = [own for own in row.elements if (own.position or 0) > number]
    return _Gap(
        row,
        number,
        chain,
        before[-1] if before else find_beyond(skeleton, row, True) if chain else None,
        after[0] if after else find_beyond(skeleton, row, False) if chain else None,
        numbered_on,
    )


def _list_members(gap: _Gap) -> tuple[RowMember, ...]:
    """The row as it is measured, with the next vertebra of another series where that is of like size."""
    members = gap.row.members
    for own in gap.ends:
        if own.series == gap.row.series or own.series not in COLUMN or own.solid.volume_m3 <= 0:
            continue
        beside = members[0] if own is gap.before else members[-1]
        number = gap.number - 1 if own is gap.before else gap.number + 1
        other = measure_member(own, number)
        ratio = np.sqrt(np.trace(other.second) / np.trace(beside.second))
        if 1 / _LIKE_SIZE < ratio < _LIKE_SIZE and abs(beside.number - gap.number) == 1:
            members = (other, *members) if own is gap.before else (*members, other)
    return members


def _require_step(members: Sequence[RowMember], number: int) -> None:
    """SkeletonError where the neighbours stand no farther apart than those beside them do."""
    steps = [float(np.linalg.norm(one.centre - other.centre)) for one, other in pairwise(members)]
    single = [other.number - one.number == 1 for one, other in pairwise(members)]
    for k, (one, other) in enumerate(pairwise(members)):
        if not one.number < number < other.number:
            continue
        beside = [steps[m] for m in (k - 1, k + 1) if 0 <= m < len(steps) and single[m]]
        if beside and steps[k] < _WIDE * np.mean(beside):
            what = (
                f"they stand {1000 * steps[k]:.4g} mm apart, centre to centre, those beside them "
                f"{1000 * np.mean(beside):.4g} mm: there is no room for one between them"
            )
            raise SkeletonError(f"{one.name} and {other.name}", what, "check whether one is missing there")


def _scale(own: RowPlace, place: RowPlace) -> tuple[Array, Array]:
    """(4, 4) takes the source to its place, and by what it is scaled along its own axes (3,)."""
    factors = place.radii_m / own.radii_m
    linear = place.axes @ np.diag(factors) @ own.axes.T
    X = np.eye(4)
    X[:3, :3], X[:3, 3] = linear, place.centre - linear @ own.centre
    return X, factors


def _fit(
    skeleton: Skeleton, mesh_folder: Path, gap: _Gap, surface: Surface, place: RowPlace
) -> tuple[Fitted | None, float | None]:
    """The vertebra fitted between its neighbours, and the discs' thickness.

    None at an end, in other rows, where more are missing, and where end plates are not found.
    """
    if not gap.chain or gap.before is None or gap.after is None or any(map(gap.misses, gap.ends)):
        return None, None
    if any(own.series not in COLUMN or own.solid.volume_m3 <= 0 for own in gap.ends):
        return None, None
    split = sum((own.position or 0) < gap.number for own in gap.row.elements)
    ahead, behind = gap.row.elements[:split], gap.row.elements[split:]
    discs = [*list_discs_m(skeleton, ahead[-2:]), *list_discs_m(skeleton, behind[:2])]
    disc_m = float(np.mean(discs)) if discs else None
    ends = [read_placed(own, mesh_folder) for own in gap.ends]
    try:
        return fit_between(surface, ends[0], ends[1], place.axes, disc_m), disc_m
    except SkeletonError as error:
        where = f"between {gap.before.name} and {gap.after.name}"
        raise SkeletonError(where, error.what, error.remedy) from None


def _find_joints(skeleton: Skeleton, order: BoneOrder, gap: _Gap, source: Element) -> tuple[Joint, ...]:
    """The bone's joint, and that of what hangs on it from now on."""
    if not gap.chain:
        return (_find_like(skeleton, order, gap),)
    parent, child = _order_ends(skeleton, order, gap)
    like = joint_between(skeleton, parent, child) if child is not None else None
    known = [joint for joint in skeleton.joints if joint.child in {own.name for own in gap.row.elements}]
    settings = next((joint.settings for joint in (like, *known) if joint and joint.settings is not None), None)
    joints = [_join(parent, order.name, gap.misses(parent), settings)]
    if child is not None:
        wanted = _join(replace(source, name=order.name), child.name, gap.misses(child), settings)
        joints.append(keep_or_look(skeleton.joint_of(child.name), wanted, skeleton))
    return tuple(joints)


def _join(parent: Element, child: str, missing: int, settings: LimitSettings | None) -> Joint:
    if missing:
        vertebrae = "1 vertebra is" if missing == 1 else f"{missing} vertebrae are"
        return fix_again(parent.name, child, f"{vertebrae} missing between them: fixed as scanned")
    return look_for(parent, child, "column", settings)


def _order_ends(skeleton: Skeleton, order: BoneOrder, gap: _Gap) -> tuple[Element, Element | None]:
    """What the bone hangs on, and what hangs on it from now on."""
    if not gap.ends:
        raise SkeletonError(order.name, "it has no neighbours", "name one in its row")
    if order.parent:
        parent = skeleton.elements[skeleton.index(order.parent)]
    else:
        parent = min(gap.ends, key=lambda own: len(list_above(skeleton, own.name)))
    above = list_above(skeleton, parent.name)
    child = next((own for own in gap.ends if own.name not in above), None)
    return parent, child


def _find_like(skeleton: Skeleton, order: BoneOrder, gap: _Gap) -> Joint:
    """The joint of a bone that hangs as its neighbours in the row do: a rib on its vertebra."""
    near = min(gap.ends, key=gap.misses)
    joint, step = skeleton.joint_of(near.name), gap.number - (near.position or 0)
    parent = order.parent or _step_on(skeleton, joint.parent, step)
    if parent is None:
        what = f"{near.name} hangs on {joint.parent}; what this one hangs on is not known"
        raise SkeletonError(order.name, what, "name its parent")
    if not name_hand(joint) and joint.moves:
        return look_for(skeleton.elements[skeleton.index(parent)], order.name, joint.kind, joint.settings)
    return fix_again(parent, order.name, f"{joint.reason or 'fixed'} (as {near.name})")


def _step_on(skeleton: Skeleton, name: str, step: int) -> str | None:
    """The element so many numbers on in the row of another; the same where that stands in none."""
    element = skeleton.elements[skeleton.index(name)]
    if element.position is None:
        return name
    wanted = element.position + step
    return next((own.name for own in find_row(skeleton, element).elements if own.position == wanted), None)


def _tell_place(gap: _Gap, members: Sequence[RowMember], fitted: Fitted | None, disc_m: float | None) -> str:
    """How size and place were found, in words with figures."""
    names = " and ".join(own.name for own in gap.ends)
    numbers = [member.number for member in members]
    told = (
        f"widths and heights from the radii of {names}, by their numbers in the row"
        if min(numbers) < gap.number < max(numbers)
        else f"size and place go on from the end of the row ({', '.join(own.name for own in members[-3:])})"
    )
    if fitted is None:
        return f"{told}; length likewise: no end plates were found to fit it between, or more are missing there"
    discs = "equal discs" if disc_m is None else f"discs of {1000 * disc_m:.3g} mm, as beside"
    gaps = " and ".join(f"{1000 * own:.3g}" for own in fitted.gaps_m)
    return (
        f"{told}; length from the room of {1000 * fitted.room_m:.4g} mm between the end plates of {names} and {discs}: "
        f"stretched {fitted.stretch:.3f} times along the column, before that it left gaps of {gaps} mm"
    )
