"""Frames of a limb's joints: which way flexion, abduction and axial turn go, the same on either side of the body.

y is the long axis of the child, from the joint to its centre of volume, as far as the flexion axis leaves it free.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..skeleton.element import Side
from ..spatial.transforms import Array, make_transform
from .fits import Fit
from .partner import Partner

_STRAIGHT_SINE = float(np.sin(np.radians(8)))
_FORWARDS, _RIGHTWARDS = np.array([1.0, 0, 0]), np.array([0.0, -1.0, 0])


@dataclass(frozen=True, eq=False)
class LimbFrame:
    """X_WJ (4, 4) and senses as in `skeleton.joint`.

    axes : which of flexion, lateral, axial (0, 1, 2) the family turns about
    bent : whether the bones are bent enough for the sense of flexion to be known
    """

    X_WJ: Array
    senses: tuple[int, int, int]
    axes: tuple[int, ...]
    bent: bool


def limb_frame(fit: Fit, parent: Partner, child: Partner, side: Side) -> LimbFrame:
    """Frame of a joint from its fitted surface.

    A ball's flexion axis looks to the animal's right as far as the long axis leaves it free, so that flexion swings the
    child towards the head. A hinge's and a saddle's is the one it reaches farthest round, and flexion closes the angle
    between the bones; a saddle's lateral axis is its other one. Lateral > 0 is to the animal's left on the left and in
    the middle, to its right on the right: away from the midline where the child hangs down; axial > 0 is right-handed
    about y on the left, mirrored on the right.
    """
    centre = fit.centre
    long = _unit(child.centre - centre, -np.array([0.0, 0, 1]))
    if not len(fit.axes):
        x = _RIGHTWARDS - long * (_RIGHTWARDS @ long)
        x = _unit(x, np.cross(_FORWARDS, long)) if np.linalg.norm(x) > 0.2 else _unit(np.cross(long, _FORWARDS), x)
        return LimbFrame(_transform(x, long, centre), _find_senses(x, side), (0, 1, 2), True)
    x = fit.axes[int(fit.arcs.argmax())]
    y = _unit(long - x * (x @ long), np.cross(x, _FORWARDS))
    if len(fit.axes) == 2:
        across = np.cross(x, fit.axes[int(fit.arcs.argmin())])
        y = across if across @ y >= 0 else -across
    towards = _unit(parent.centre - centre, -long)
    closing = float(np.cross(x, y) @ towards)
    if closing < 0:
        x = -x
    axes = (0,) if len(fit.axes) == 1 else (0, 1)
    return LimbFrame(_transform(x, y, centre), _find_senses(x, side), axes, abs(closing) > _STRAIGHT_SINE)


def _find_senses(x: Array, side: Side) -> tuple[int, int, int]:
    """Turning about z takes the child's end along -x: lateral > 0 is that or the other way, whichever is outwards."""
    outwards = _RIGHTWARDS if side == "right" else -_RIGHTWARDS
    return 1, 1 if -x @ outwards >= 0 else -1, -1 if side == "right" else 1


def turn_frame(frame: LimbFrame) -> LimbFrame:
    """The same with flexion the other way: half a turn about the long axis; the same lateral turn keeps its number."""
    X_WJ = frame.X_WJ.copy()
    X_WJ[:3, 0], X_WJ[:3, 2] = -X_WJ[:3, 0], -X_WJ[:3, 2]
    flexion, lateral, axial = frame.senses
    return LimbFrame(X_WJ, (flexion, -lateral, axial), frame.axes, frame.bent)


def _transform(x: Array, y: Array, centre: Array) -> Array:
    return make_transform(np.column_stack([x, y, np.cross(x, y)]), centre)


def _unit(direction: Array, otherwise: Array) -> Array:
    length = float(np.linalg.norm(direction))
    if length > 1e-9:
        unit: Array = direction / length
        return unit
    other: Array = otherwise / max(float(np.linalg.norm(otherwise)), 1e-300)
    return other
