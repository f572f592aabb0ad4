"""The ranges of many joints side by side: how far each is used, which way its boundary faces, what lies inside.

A joint's range is the box of its six limits and, where it has one, its envelope. Seen from neutral both reach out in
every direction once, in cosine-corrected joint space: what is drawn straight back towards neutral comes inside both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from ..skeleton.directions import list_directions
from ..skeleton.envelope import correct_angles, find_angles
from ..skeleton.joint import Joint
from ..spatial.transforms import Array

Rows = NDArray[np.int64]

LEAST_SHARE = 1e-3
"""The least that an envelope reaches in any direction, as `skeleton.envelope` has it."""
WITHIN = 1 - 1e-9
"""What is brought to an envelope's boundary ends this little inside, so that rounding leaves it there."""
_QUARTERED = 21
"""Triangles of an octant that are quartered: one, its four, their sixteen."""
FREE_RAD = float(np.pi / 3)
"""A joint whose limits are not known is shared a turn by as if it had this range each way; nothing bounds it."""


@dataclass(frozen=True, eq=False)
class Bounds:
    """The ranges of n joints.

    low, high : (n, 3) ends of flexion, lateral, axial [rad]; infinite where they are not known, zero where fixed
    known : (n,) whether the limits are known; moves : (n,) whether the joint turns at all
    coupled : (n,) whether it has an envelope
    scale : (n, 3, 2) lengths [rad] that the envelope's directions are stretched by, backwards and forwards
    uses : (n, 258) one over the share that the envelope reaches in each direction
    """

    low: Array
    high: Array
    known: NDArray[np.bool_]
    moves: NDArray[np.bool_]
    coupled: NDArray[np.bool_]
    scale: Array
    uses: Array

    def take(self, rows: Rows) -> Bounds:
        """Those of some of the joints."""
        return Bounds(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))

    @property
    def widths(self) -> Array:
        """(n, 3) half of each axis's whole range [rad]; of a joint whose limits are not known a stand-in."""
        return np.where(self.known[:, None], (self.high - self.low) / 2, FREE_RAD)


@dataclass(frozen=True, eq=False)
class _Cones:
    """The triangles of an octant of the sphere, and the way down to the one that a point lies under.

    planes : (3, 3 · 21) that cut off the first, second and third corner of every triangle that is quartered, facing it;
        triangle i is quartered into 4 i + 1 to 4 i + 4: its corners, then its middle
    inverses : (64, 3, 3) a point's shares of a finest triangle's corners
    corners : (8, 64, 3) numbers of the directions there, in each octant
    """

    planes: Array
    inverses: Array
    corners: Rows


def make_bounds(joints: Sequence[Joint]) -> Bounds:
    """The ranges of joints, in their order."""
    n = len(joints)
    low, high = np.full((n, 3), -np.inf), np.full((n, 3), np.inf)
    scale, uses = np.ones((n, 3, 2)), np.ones((n, 258))
    coupled = np.zeros(n, bool)
    for i, joint in enumerate(joints):
        if joint.limits is not None:
            low[i] = [axis.low.angle_rad for axis in joint.limits]
            high[i] = [axis.high.angle_rad for axis in joint.limits]
        if not joint.moves:
            low[i] = high[i] = 0.0
        elif joint.envelope is not None:
            coupled[i], scale[i] = True, np.abs(joint.envelope.scale_rad)
            uses[i] = 1 / np.maximum(joint.envelope.shares, LEAST_SHARE)
    known = np.array([joint.limits is not None or not joint.moves for joint in joints], bool)
    return Bounds(low, high, known, np.array([joint.moves for joint in joints], bool), coupled, scale, uses)


@cache
def _list_cones() -> _Cones:
    sphere = list_directions()
    at = {tuple(np.round(direction, 9) + 0.0): i for i, direction in enumerate(sphere.directions)}
    triangles, cuts = [np.eye(3)], []
    for k in range(_QUARTERED):
        a, b, c = triangles[k]
        ab, bc, ca = ((one + other) / np.linalg.norm(one + other) for one, other in ((a, b), (b, c), (c, a)))
        # Each plane through the middles of two sides; what it faces is the corner between them.
        cuts.append([np.cross(ab, ca), np.cross(bc, ab), np.cross(ca, bc)])
        triangles += [np.array(own) for own in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))]
    finest = np.array(triangles[_QUARTERED:])
    signs = np.array([[-1 if o & bit else 1 for bit in (1, 2, 4)] for o in range(8)])
    numbers = [[[at[tuple(np.round(sign * c, 9) + 0.0)] for c in three] for three in finest] for sign in signs]
    inverses = np.linalg.inv(np.swapaxes(finest, 1, 2)).astype(np.float64)
    facing = np.array(cuts) * np.sign(np.einsum("tki,tki->tk", cuts, np.array(triangles[:_QUARTERED])))[..., None]
    return _Cones(np.ascontiguousarray(np.swapaxes(facing, 0, 1).reshape(-1, 3).T), inverses, np.array(numbers))


def _find_triangles(cones: _Cones, points: Array) -> Rows:
    """(n,) the finest triangle that each point (n, 3) of the first octant lies under."""
    at, rows = np.zeros(len(points), np.int64), np.arange(len(points))
    # Of every triangle and point at once, so that the way down only looks them up.
    beyond = points @ cones.planes > 0
    first, second, third = (beyond[:, k * _QUARTERED : (k + 1) * _QUARTERED] for k in range(3))
    corner = np.where(first, 0, np.where(second, 1, np.where(third, 2, 3)))
    for _ in range(3):
        at = 4 * at + 1 + corner[rows, at]
    return at - _QUARTERED


def measure_uses(bounds: Bounds, angles_rad: Array) -> tuple[Array, Array]:
    """How much of the way from neutral to its envelope each joint takes at angles (n, 3), and how that grows.

    Returns
    -------
    (n,) 1 at the boundary, 0 of a joint without an envelope; (n, 3) its gradient by the three angles [1/rad], which
    points straight out of the facet of the envelope that the joint stands under
    """
    cones, points = _list_cones(), correct_angles(angles_rad)
    ahead = points >= 0
    lengths = np.where(ahead, bounds.scale[..., 1], bounds.scale[..., 0])
    slopes = np.divide(np.where(ahead, 1.0, -1.0), lengths, out=np.zeros_like(lengths), where=lengths > 0)
    triangle = _find_triangles(cones, points * slopes)
    octant = (~ahead) @ np.array([1, 2, 4])
    rows = np.arange(len(points))
    ends = bounds.uses[rows[:, None], cones.corners[octant, triangle]]
    outwards = (ends[:, None, :] @ cones.inverses[triangle])[:, 0] * slopes
    use = (outwards * points).sum(axis=1)
    lateral = angles_rad[:, 1]
    # By the angles: the corrected flexion depends on the lateral angle too.
    gradient = outwards.copy()
    gradient[:, 0] *= np.cos(lateral)
    gradient[:, 1] -= outwards[:, 0] * angles_rad[:, 0] * np.sin(lateral)
    return np.where(bounds.coupled, use, 0.0), np.where(bounds.coupled[:, None], gradient, 0.0)


def pull_inside(bounds: Bounds, angles_rad: Array) -> Array:
    """Angles (n, 3) inside the ranges: those that already are as they are.

    Each axis is taken back to its end, and what is then outside its envelope is drawn straight towards neutral.
    """
    held = np.clip(angles_rad, bounds.low, bounds.high)
    use, _ = measure_uses(bounds, held)
    over = np.flatnonzero(use > WITHIN)
    if len(over):
        held[over] = find_angles(correct_angles(held[over]) / use[over, None] * WITHIN)
        held[over] = np.clip(held[over], bounds.low[over], bounds.high[over])
    return held


def lie_within(bounds: Bounds, angles_rad: Array, slack_rad: float = 0.0) -> NDArray[np.bool_]:
    """(n,) whether joints at angles (n, 3) are inside their ranges; slack_rad : of the box's ends."""
    use, _ = measure_uses(bounds, angles_rad)
    in_box = ((angles_rad >= bounds.low - slack_rad) & (angles_rad <= bounds.high + slack_rad)).all(axis=1)
    within: NDArray[np.bool_] = in_box & (use <= 1)
    return within
