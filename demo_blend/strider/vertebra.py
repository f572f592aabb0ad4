"""A vertebra with facets of known place and shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .solids import Array, Solid, ball, block, cut, disc, halfspace, join, keep, rod

GAP_SHARE = 0.06
"""Of a vertebra's breadth: joint space between two end plates."""


@dataclass(frozen=True)
class JointShape:
    """Where two neighbours of the column meet: x to the head, y left, z to the back.

    X_WJ : (4, 4) the middle of the joint space and its directions
    gap_m : between the end plates; facet_gap_m : between the zygapophyses
    ball_radius_m : of a ball-and-cotyle joint, its ball on the tailward element; None where the ends are flat
    facet_m : (2,) how far the zygapophyses' centres lie to the side and dorsally; None where there are none
    facet_radius_m : of the discs; facet_tilt_rad : how far they look to the middle instead of dorsally
    """

    X_WJ: Array
    gap_m: float
    facet_gap_m: float
    ball_radius_m: float | None = None
    facet_m: tuple[float, float] | None = None
    facet_radius_m: float = 0.0
    facet_tilt_rad: float = 0.0

    def facet_normal(self, side: int) -> Array:
        """(3,) of the tailward element's facet, in the world: dorsally and to the middle; side 1 is left."""
        tilt = self.facet_tilt_rad
        return self.X_WJ[:3, :3] @ np.array([0.0, -side * np.sin(tilt), np.cos(tilt)])

    def facet_centre(self, side: int, tailward: bool) -> Array:
        """(3,) of a facet's disc in the world."""
        across, up = self.facet_m
        middle = self.X_WJ[:3, 3] + self.X_WJ[:3, :3] @ np.array([0.0, side * across, up])
        return middle + self.facet_normal(side) * self.facet_gap_m / 2 * (-1 if tailward else 1)

    def plate_centre(self, tailward: bool) -> Array:
        """(3,) the middle of an end plate, in the world; of a ball or cotyle its pole."""
        step = self.gap_m / 2 * (-1 if tailward else 1)
        return self.X_WJ[:3, 3] + self.X_WJ[:3, 0] * (
            step + (self.ball_radius_m or 0.0) * (1 if self.ball_radius_m else 0)
        )


@dataclass(frozen=True)
class VertebraShape:
    """Measures of one vertebra [m]; X_WV : (4, 4) its middle, x to the head, y left, z to the back."""

    X_WV: Array
    length: float
    breadth: float
    height: float
    spine: float
    process: float
    canal: float


def make_vertebra(shape: VertebraShape, head: JointShape | None, tail: JointShape | None) -> Solid:
    """The vertebra between two joints of the column; None where it has no neighbour."""
    X, R = shape.X_WV, shape.X_WV[:3, :3]
    at = lambda x, y, z: X[:3, 3] + R @ np.array([x, y, z])  # noqa: E731
    b, h, long = shape.breadth / 2, shape.height / 2, shape.length
    centrum = rod(at(long, 0, 0), at(-long, 0, 0), b, flat=R[:, 2] * b / h)
    waist = [ball(at(0, side * b * 3.1, -0.2 * h), b * 2.25) for side in (1, -1)]
    body = cut(centrum, *waist)
    for joint, tailward in ((head, True), (tail, False)):
        body = _end(body, joint, tailward, X, long)
    roof = h + 2.2 * shape.canal
    arch = [
        rod(
            at(0.3 * long, side * 1.3 * shape.canal, 0.7 * h),
            at(-0.3 * long, side * 1.3 * shape.canal, roof),
            shape.canal * 0.55,
        )
        for side in (1, -1)
    ]
    arch += [block(at(0, 0, roof), (0.33 * long, 1.6 * shape.canal, 0.4 * shape.canal), R, 0.2 * shape.canal)]
    spine = rod(
        at(0.1 * long, 0, roof), at(-0.35 * long, 0, roof + shape.spine), 0.26 * long, 0.2 * long, R[:, 1] * 3.2
    )
    sides = [
        rod(
            at(0, side * shape.canal, 0.9 * h), at(-0.15 * long, side * (b + shape.process), h), 0.16 * long, 0.1 * long
        )
        for side in (1, -1)
    ]
    whole = join(body, *arch, spine, *(sides if shape.process > 0 else ()), blend=0.35 * shape.canal)
    for joint, tailward in ((head, True), (tail, False)):
        if joint is not None and joint.facet_m is not None:
            whole = _add_facets(whole, joint, tailward, at, roof, shape.canal)
    bore = rod(at(0.9 * long, 0, h + shape.canal), at(-0.9 * long, 0, h + shape.canal), shape.canal)
    return cut(whole, bore)


def _end(body: Solid, joint: JointShape | None, tailward: bool, X: Array, long: float) -> Solid:
    """Cut a centrum at a joint: flat, or round as a ball (on the tailward element) or hollow as its cotyle."""
    sense = 1 if tailward else -1
    if joint is None:
        return keep(body, halfspace(X[:3, 3] + sense * X[:3, 0] * long / 2, sense * X[:3, 0]))
    J = joint.X_WJ
    if joint.ball_radius_m is None:
        return keep(body, halfspace(joint.plate_centre(tailward), sense * J[:3, 0]))
    if tailward:
        return join(keep(body, halfspace(J[:3, 3], J[:3, 0])), ball(J[:3, 3], joint.ball_radius_m - joint.gap_m / 2))
    rim = J[:3, 3] + J[:3, 0] * 0.25 * joint.ball_radius_m
    return cut(keep(body, halfspace(rim, -J[:3, 0])), ball(J[:3, 3], joint.ball_radius_m + joint.gap_m / 2))


def _add_facets(whole: Solid, joint: JointShape, tailward: bool, at, roof: float, canal: float) -> Solid:
    """Discs on the ends of processes; behind them the process, before them nothing."""
    processes, faces, clear = [], [], []
    for side in (1, -1):
        normal = joint.facet_normal(side) * (1 if tailward else -1)
        centre, radius = joint.facet_centre(side, tailward), joint.facet_radius_m
        depth = 0.6 * radius
        foot = at(0, side * 1.4 * canal, roof - 0.6 * canal)
        back = centre - normal * (depth + 0.35 * radius)
        processes.append(rod(foot, back, 0.75 * radius, 0.6 * radius))
        faces.append(disc(centre, normal, radius, depth))
        clear.append(disc(centre + normal * 1.2 * radius, normal, 1.25 * radius, 1.2 * radius))
    whole = cut(join(whole, *processes, blend=0.3 * canal), *clear)
    return join(whole, *faces)
