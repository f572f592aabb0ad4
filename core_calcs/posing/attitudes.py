"""One joint: the nearest attitude that its range allows, and what stops it there."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..skeleton.directions import list_directions, list_ring
from ..skeleton.envelope import HELD_RAD, correct_angles, find_angles, find_corners
from ..skeleton.joint import AXES, Envelope, Joint, Stop
from ..spatial.transforms import Array
from .bounds import WITHIN, Bounds, make_bounds, measure_uses, pull_inside


@dataclass(frozen=True, eq=False)
class Held:
    """A joint's attitude inside its range, and what held it.

    angles_rad : (3,) flexion, lateral, axial: what was asked for where that is allowed, else the nearest that is
    held : whether it was not
    axis : flexion, lateral or axial: the one whose end is nearest; empty where nothing held the joint
    stop : that end of the movement: its angle, what ends it, where; None where nothing held the joint
    together : that each axis is inside its own ends and only all together are not; the stop is then the nearest alone
    known : whether the joint's limits are known; where they are not, nothing holds it
    """

    angles_rad: Array
    held: bool
    axis: str = ""
    stop: Stop | None = None
    together: bool = False
    known: bool = True


def hold_attitude(joint: Joint, angles_rad: Array) -> Held:
    """The nearest attitude to angles (3,) that a joint's box and envelope allow.

    Nearest on the envelope, in cosine-corrected joint space; where the box cuts that off, the nearer of two: that taken
    back to the box, and the nearest on the envelope to what is nearest in the box.
    """
    asked = np.asarray(angles_rad, float)
    if not joint.moves:
        return Held(np.zeros(3), bool(np.any(asked)))
    if joint.limits is None:
        return Held(asked, False, known=False)
    bounds = _prepare_bounds(joint)
    boxed = np.clip(asked, bounds.low[0], bounds.high[0])
    within = bool((np.abs(boxed - asked) <= np.where(bounds.low[0] == bounds.high[0], HELD_RAD, 0.0)).all())
    outside = joint.envelope is not None and float(measure_uses(bounds, np.stack([boxed, boxed]))[0][0]) > 1
    if within and not outside:
        return Held(asked, False)
    nearest = boxed
    if outside and joint.envelope is not None:
        first = _find_nearest(joint.envelope, asked)
        ends = pull_inside(bounds, np.stack([first, first if within else _find_nearest(joint.envelope, boxed)]))
        apart = correct_angles(ends) - correct_angles(asked)
        nearest = ends[(apart * apart).sum(axis=1).argmin()]
    return _tell_stop(joint, asked, nearest, within)


def _tell_stop(joint: Joint, asked: Array, held: Array, within: bool) -> Held:
    """What stops it: of the axes asked beyond their ends the one that was asked the farthest, else the most used."""
    assert joint.limits is not None
    ends = [limit.high if angle > 0 else limit.low for limit, angle in zip(joint.limits, asked, strict=True)]
    reach = np.array([abs(end.angle_rad) for end in ends])
    beyond = np.abs(asked) - reach
    shares = np.divide(np.abs(held), reach, out=np.zeros(3), where=reach > 0)
    i = int(shares.argmax()) if within else int(beyond.argmax())
    return Held(held, True, AXES[i], ends[i], together=within)


@lru_cache(maxsize=4096)
def _prepare_bounds(joint: Joint) -> Bounds:
    """Twice the joint's, for the two attitudes of which the nearer is taken."""
    return make_bounds([joint, joint])


@dataclass(frozen=True, eq=False)
class _Skin:
    """The surface of an envelope, or the closed line of one that turns about two axes, as the nearest place asks it.

    starts, ways : (e, 3) of its edges; lengths2, along0, far0 : (e,) what of them does not depend on the point
    normals : (m, 3) of its triangles; heights0 : (m,) of their planes
    inwards : (3m, 3) across a triangle's edges, inwards0 : (3m,) where its inside begins
    plane : (3,) ones of the axes that turn
    """

    starts: Array
    ways: Array
    lengths2: Array
    along0: Array
    far0: Array
    normals: Array
    heights0: Array
    inwards: Array
    inwards0: Array
    plane: Array


def _find_nearest(envelope: Envelope, angles_rad: Array) -> Array:
    skin = _prepare_skin(envelope)
    point = correct_angles(angles_rad) * skin.plane
    along = np.clip((skin.ways @ point - skin.along0) / skin.lengths2, 0, 1)
    apart = skin.far0 - 2 * (skin.starts @ point) - along * (2 * (skin.ways @ point - skin.along0))
    apart += along**2 * skin.lengths2
    edge = int(apart.argmin())
    best, nearest = apart[edge] + point @ point, skin.starts[edge] + along[edge] * skin.ways[edge]
    if len(skin.normals):
        over = (skin.inwards @ point >= skin.inwards0).reshape(-1, 3).all(axis=1)
        heights = skin.normals @ point - skin.heights0
        face = int(np.where(over, heights**2, np.inf).argmin())
        if bool(np.take(over, face)) and heights[face] ** 2 < best:
            nearest = point - heights[face] * skin.normals[face]
    found: Array = find_angles(nearest * WITHIN)
    return found


@lru_cache(maxsize=4096)
def _prepare_skin(envelope: Envelope) -> _Skin:
    corners = find_corners(envelope)
    flat = np.flatnonzero((envelope.scale_rad == 0).all(axis=1))
    plane = np.ones(3)
    plane[flat] = 0.0
    if len(flat):
        ring = list_ring(int(flat[0]))
        pairs, triangles = np.stack([ring, np.roll(ring, -1)], axis=1), np.zeros((0, 3), np.int64)
    else:
        triangles = list_directions().triangles
        pairs = np.unique(np.sort(np.concatenate([triangles[:, [a, b]] for a, b in ((0, 1), (1, 2), (0, 2))])), axis=0)
    starts, ways = corners[pairs[:, 0]], corners[pairs[:, 1]] - corners[pairs[:, 0]]
    of = corners[triangles]
    edges = np.roll(of, -1, axis=1) - of
    normals = np.cross(edges[:, 0], edges[:, 1])
    sizes = np.linalg.norm(normals, axis=1)
    normals, edges = normals[sizes > 0] / sizes[sizes > 0, None], edges[sizes > 0]
    of = of[sizes > 0]
    inwards = np.cross(normals[:, None], edges)
    return _Skin(
        starts,
        ways,
        np.maximum((ways**2).sum(axis=1), 1e-300),
        (starts * ways).sum(axis=1),
        (starts**2).sum(axis=1),
        normals,
        (normals * of[:, 0]).sum(axis=1),
        inwards.reshape(-1, 3),
        (inwards * of).sum(axis=2).ravel(),
        plane,
    )
