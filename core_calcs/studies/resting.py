"""What a pose that is set down rests on: its feet, or what else reaches lower than they do."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ..document.meshes import require_files
from ..mesh.element_surface import read_element
from ..site.site import Site
from ..skeleton.element import Element
from ..skeleton.kinematics import place_elements
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from ..spatial.errors import DocumentError, MeshFileError
from ..spatial.transforms import Array, make_transform
from ..statics.supports import list_supports
from .stand import Standing, find_standing

MOST_SUNK = 0.1
"""Of the volume: with more of it below the ground it is no animal on its feet of which something dips.
Our own choice, no source."""


@dataclass(frozen=True, eq=False)
class Resting:
    """What a pose rests on after it was set down.

    standing : how it was set down, and on which feet: none where something else holds them off the ground
    others : elements that hold it up and are no part of a foot, within the contact tolerance of the ground
    unread : elements that may reach lower than is known, for their files cannot be read: they count by their centres
    sunk : what reaches lowest below the ground that the feet stand on, deeper than the contact tolerance; else empty
    depth_m : how deep that reaches
    """

    standing: Standing
    others: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    sunk: str = ""
    depth_m: float = 0.0


@dataclass(frozen=True, eq=False)
class _Lows:
    """Elements beside the feet, and how far above the ground each one's lowest point is [m], of those that matter.

    sunk_share : share of all elements' volume that is of such with their centres below the lowest foot that stands
    """

    above_m: dict[str, float]
    unread: tuple[str, ...]
    sunk_share: float


def find_resting(
    skeleton: Skeleton, pose: Pose, site: Site, level: bool = False, mesh_folder: Path | None = None
) -> Resting:
    """Set the whole down on its feet; where much else were then below the ground, on what reaches lowest.

    Below the ground is what is so by more than the contact tolerance. An animal on its back is held up by its skull and
    spines: it does not stand. One whose tail dips stands, and is to have it raised: that is told. Elements of feet that
    the pose lets off may be anywhere. What is no foot has the lowest ground that a foot has.

    Parameters
    ----------
    level : as `find_standing`; tilted only where more feet touch the ground then
    mesh_folder : where the elements' files are; of one that cannot be read, or without the folder, it is only known
        that an element reaches as low as its centre

    Raises
    ------
    SkeletonError : as `find_standing`
    """
    plain = _rest(skeleton, find_standing(skeleton, pose, site), site, mesh_folder)
    if not level:
        return plain
    tilted = find_standing(skeleton, pose, site, level=True)
    if not tilted.tilt_rad or len(tilted.feet) <= len(plain.standing.feet):
        return plain
    found = _rest(skeleton, tilted, site, mesh_folder)
    return found if len(found.standing.feet) > len(plain.standing.feet) else plain


def _rest(skeleton: Skeleton, standing: Standing, site: Site, folder: Path | None) -> Resting:
    lows = _find_lows(skeleton, standing, site, folder)
    lowest = min(lows.above_m.values(), default=0.0)
    if lowest >= -site.contact_tolerance_m:
        return Resting(standing, (), lows.unread)
    if lows.sunk_share <= MOST_SUNK:
        sunk = min(lows.above_m, key=lows.above_m.__getitem__)
        return Resting(standing, (), lows.unread, sunk, -lowest)
    up = replace(standing.pose, X_WN=make_transform(np.eye(3), [0.0, 0.0, -lowest]) @ standing.pose.X_WN)
    # The lowest foot was at its ground: lifted by more than the tolerance none is within that of it.
    held = replace(standing, pose=up, feet=(), lift_m=standing.lift_m - lowest)
    others = tuple(name for name, above in lows.above_m.items() if above - lowest <= site.contact_tolerance_m)
    return Resting(held, others, lows.unread)


def _find_lows(skeleton: Skeleton, standing: Standing, site: Site, folder: Path | None) -> _Lows:
    """Only those are read whose bounding boxes reach as low as what was found lowest so far."""
    feet = {contact.element for foot in skeleton.feet for contact in foot.contacts}
    heights = list_supports([foot.name for foot in skeleton.feet], site.footings).height_m
    ground = site.ground_m + min(float(heights.min(initial=0.0)), 0.0)
    placed = place_elements(skeleton, standing.pose)
    stand = [k for k, foot in enumerate(skeleton.feet) if foot.name in standing.feet]
    rows = [i for i, element in enumerate(skeleton.elements) if element.name not in feet]
    bounds = {i: _bound_low(skeleton.elements[i], placed[i]) - ground for i in rows}
    above: dict[int, float] = {}
    unread, lowest = [], -site.contact_tolerance_m
    for i in sorted(rows, key=bounds.__getitem__):
        if bounds[i] > lowest + site.contact_tolerance_m:
            break
        own, up = skeleton.elements[i], placed[i][2]
        points = _read_points(own, folder)
        if points is None:
            unread.append(i)
            points = np.asarray(own.solid.centre_m, float)[None]
        above[i] = float((points @ up[:3]).min() + up[3]) - ground
        lowest = min(lowest, above[i])
    names = [element.name for element in skeleton.elements]
    # A file that is not there tells nothing where even the box is above what was found.
    doubtful = (i for i in sorted(unread) if bounds[i] < lowest)
    share = _share_below(skeleton, placed, site.ground_m + min((float(heights[k]) for k in stand), default=0.0))
    return _Lows({names[i]: above[i] for i in sorted(above)}, tuple(names[i] for i in doubtful), share)


def _share_below(skeleton: Skeleton, placed: Array, ground_m: float) -> float:
    """Share of all elements' volume that is of such with their centres below a height."""
    solids = [element.solid for element in skeleton.elements]
    volumes = np.array([solid.volume_m3 for solid in solids])
    centres = np.array([X[2, :3] @ solid.centre_m + X[2, 3] for solid, X in zip(solids, placed, strict=True)])
    return float(volumes[centres < ground_m].sum() / volumes.sum())


def _bound_low(element: Element, X_WE: Array) -> float:
    """Height of the lowest corner of an element's box: no point of it is lower."""
    up, solid = X_WE[2, :3], element.solid
    return float(X_WE[2, 3] + np.minimum(up * solid.lower_m, up * solid.upper_m).sum())


def _read_points(element: Element, folder: Path | None) -> Array | None:
    """(n, 3) vertices in the element's frame E; None where its file is missing, another one, or cannot be read."""
    if folder is None:
        return None
    source = element.source
    try:
        require_files((element,), folder)
        return read_element(folder, source.file, source.body, source.unit_m).vertices
    except (DocumentError, MeshFileError, OSError):
        return None
