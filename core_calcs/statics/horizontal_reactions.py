"""How contacts share what pushes the body along the ground."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..spatial.transforms import Array


def share_horizontally(points_m: ArrayLike, presses_N: ArrayLike, push_N: ArrayLike, turn_Nm: float) -> Array | None:
    """Horizontal forces (n, 2) at ground points (n, 2) that hold a horizontal push (2,) and a moment about z.

    push_N, turn_Nm : what is to be held, the moment about the origin of the points

    Each contact resists in proportion to how it is pressed (n,) on the ground, as friction does: the body shifts and
    turns a little as one, ``h_i = N_i (u + t × r_i)``. Equilibrium fixes u and t; of all forces that keep it these
    have the least sum of h²/N. Equilibrium alone leaves them open but for their sum: no range is given for them.

    Returns
    -------
    None where no contact is pressed, or only one point is and there is a moment to hold.
    """
    points, presses = np.asarray(points_m, float).reshape(-1, 2), np.asarray(presses_N, float)
    push = np.asarray(push_N, float)
    total = float(presses.sum())
    if not push.any() and turn_Nm == 0:
        return np.zeros_like(points)
    if total <= 0:
        return None
    middle = presses @ points / total
    arm = points - middle
    left = turn_Nm - (middle[0] * push[1] - middle[1] * push[0])
    stiffness = float(presses @ (arm * arm).sum(axis=1))
    scale = total * float((points * points).sum(axis=1).max())
    if stiffness <= 1e-18 * scale:
        if abs(left) > 1e-9 * max(float(np.hypot(*push)), abs(turn_Nm)):
            return None
        turn = 0.0
    else:
        turn = -left / stiffness
    across = np.column_stack([-arm[:, 1], arm[:, 0]])
    forces: Array = presses[:, None] * (-push / total + turn * across)
    return forces
