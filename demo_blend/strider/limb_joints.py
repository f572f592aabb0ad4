"""Joints of the quay strider's limbs: the surface of the bone that stands out, and the hollow that takes it.

Known for each is its family, its centre and its axes. Everything else about a bone's end is its own affair; what faces
the partner is cut by these surfaces, a few millimetres of cartilage apart.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from .solids import Array, Solid, ball, carve, halfspace, join, keep, trim

LimbFamily = Literal["ball", "hinge", "paired condyles", "saddle"]
_EDGE = 0.45
"""Of the half-width, or of the radius where that is less: rounding of a roller's edges."""
_RIM = 0.16
"""Of the radius: rounding of a hollow's rim."""
_SHARP_RIM = 0.04
"""Of a saddle's: what it ends at is told from it by its edges alone."""
_APART, _WIDE, _NOTCH, _TAPER = 0.575, 0.49, 0.60, 0.025
"""Condyles: their crowns' distance from the middle and their own half-width, by the whole's half-width; how deep the
notch between them is, and how much larger the inner one is, by the radius."""
SADDLE_RING = 2.2
"""How far the middle of a saddle's ring lies from its axis, by the radius of its tube."""


@dataclass(frozen=True, eq=False)
class LimbJoint:
    """A joint of a limb as it is made.

    X_WJ : (4, 4) at its centre; y along its axis, z into the bone that takes the other
    radius : of the ball; about the axis, at the crown; of a saddle's tube [m]
    half_width : of a roller, along its axis [m]; of a ball and a saddle nothing
    gap : between the surfaces [m]; groove : how deep a pulley is hollowed, by its radius
    """

    family: LimbFamily
    X_WJ: Array
    radius: float
    half_width: float
    gap: float
    groove: float = 0.0

    @property
    def centre(self) -> Array:
        """(3,) [m]."""
        return self.X_WJ[:3, 3]

    @property
    def axes(self) -> list[tuple[Array, Array]]:
        """Direction (3,) and a point (3,) of each axis that it turns about; none of a ball."""
        x, y, z = self.X_WJ[:3, :3].T
        if self.family == "ball":
            return []
        if self.family == "saddle":
            half = SADDLE_RING * self.radius / 2
            return [(y, self.centre - half * z), (x, self.centre + half * z)]
        return [(y, self.centre)]

    @property
    def reach(self) -> float:
        """From the centre to its axes and beyond: of a saddle the distance between its axes, else the radius [m]."""
        return self.radius * (SADDLE_RING if self.family == "saddle" else 1.0)

    def at(self, x: float, y: float, z: float) -> Array:
        """(3,) a place in the world, given by the joint's own directions [m]."""
        return self.X_WJ[:3, 3] + self.X_WJ[:3, :3] @ np.array([x, y, z])

    def stand_out(self, beyond: float = 0.0, wide: float = 1.0) -> Solid:
        """The ball or roller, all the way round; grown by `beyond` [m], its half-width that many times as great."""
        if self.family == "ball":
            return ball(self.centre, self.radius + beyond)
        if self.family == "saddle":
            return self._ring(beyond)
        edge = _EDGE * min(self.half_width, self.radius)

        def round_side(p: Array) -> Array:
            q = (p - self.centre) @ self.X_WJ[:3, :3]
            return 0.9 * (np.hypot(q[:, 0], q[:, 2]) - self._find_radius(q[:, 1]) - beyond)

        def between(p: Array) -> Array:
            return np.abs((p - self.centre) @ self.X_WJ[:3, 1]) - wide * self.half_width

        return trim(round_side, between, edge)

    def hollow_out(self, solid: Solid, height: float) -> Solid:
        """The bone that takes the other, cut by its surface and the joint space, and where it reaches beyond the rim.

        height : of the rim above the centre, by the radius: the less, the farther the hollow reaches round
        """
        rounding = _RIM * self.radius
        z = self.X_WJ[:3, 2]
        cut = carve(solid, self.stand_out(self.gap, 2.5), rounding)
        return trim(cut, halfspace(self.centre + z * height * self.radius, -z), rounding)

    def straddle(self, solid: Solid, upper: bool) -> Solid:
        """A bone's end cut to a saddle: the upper lies within the ring's tube, the lower outside it."""
        through, middle = (point for _, point in self.axes)
        z, rounding = self.X_WJ[:3, 2], _SHARP_RIM * self.radius
        if not upper:
            return carve(solid, keep(self._ring(0.0), halfspace(through, -z)), rounding)
        return trim(solid, join(self._ring(-self.gap), halfspace(middle, -z)), rounding)

    def _ring(self, beyond: float) -> Solid:
        """The ring whose inner side the saddle is."""
        through = self.axes[0][1]

        def distance(p: Array) -> Array:
            q = (p - through) @ self.X_WJ[:3, :3]
            return np.hypot(np.hypot(q[:, 0], q[:, 2]) - SADDLE_RING * self.radius, q[:, 1]) - self.radius - beyond

        return distance

    def _find_radius(self, y: Array) -> Array:
        """Distance from the axis at places along it (n,) [m]."""
        y = np.clip(y, -self.half_width, self.half_width)
        if self.family == "hinge":
            return self.radius * (1 - self.groove * np.cos(np.pi * y / self.half_width))
        apart = _APART * self.half_width
        beside = np.minimum(np.abs(np.abs(y) - apart) / (_WIDE * self.half_width), 0.98)
        return self.radius * (1 - _TAPER * y / apart - _NOTCH * (1 - np.sqrt(1 - beside**2)))


def make_limb_joint(
    family: LimbFamily,
    centre: Array,
    axis: Array,
    into: Array,
    radius: float,
    half_width: float = 0.0,
    gap: float = 0.003,
    groove: float = 0.0,
) -> LimbJoint:
    """A joint about an axis (3,), the bone that takes the other lying `into` (3,) as far as the axis leaves it free.

    A ball has no axis: there the axis gives way.
    """
    kept, other = (into, axis) if family == "ball" else (axis, into)
    kept = kept / np.linalg.norm(kept)
    other = other - kept * (other @ kept)
    other = other / np.linalg.norm(other)
    y, z = (other, kept) if family == "ball" else (kept, other)
    X = np.eye(4)
    X[:3] = np.column_stack([np.cross(y, z), y, z, centre])
    return LimbJoint(family, X, radius, half_width, gap, groove)


def mirror_joint(joint: LimbJoint) -> LimbJoint:
    """The same on the other side of the plane y = 0; its own y still looks to the outside of the body."""
    X = joint.X_WJ.copy()
    X[1] *= -1
    X[:3, 0] *= -1  # right-handed again: no surface knows its x from -x
    return replace(joint, X_WJ=X)
