"""What the ground adds at every contact for each of many wrenches, as if no contact let go and presses stayed."""

from __future__ import annotations

import numpy as np

from ..spatial.transforms import Array
from .contacts import Contacts


def add_reactions(contacts: Contacts, stiffness: Array, presses_N: Array, applied: Array, about_m: Array) -> Array:
    """Forces (b, m, 3) at the contacts that hold wrenches (b, 6) about a point (3,), in proportion to them.

    Along the ground the contacts share as they are pressed (m,) beforehand (`horizontal_reactions`), upwards as springs
    (m,) that may pull: linear, unlike what the feet do, which lets go where it would pull. It tells which of many
    actions matter for what lies between feet; what they do there `solve_reactions` says.
    """
    plan = contacts.points_m[:, :2] - about_m[:2]
    rise = contacts.ground_m - about_m[2]
    forces = np.zeros((len(applied), len(plan), 3))
    if not len(plan):
        return forces
    shares = np.maximum(presses_N, 0)
    shares = shares / shares.sum() if shares.any() else np.full(len(plan), 1 / len(plan))
    middle = shares @ plan
    arm = plan - middle
    left = applied[:, 5] - (middle[0] * applied[:, 1] - middle[1] * applied[:, 0])
    stiff = float(shares @ (arm * arm).sum(axis=1))
    across = np.column_stack([-arm[:, 1], arm[:, 0]])
    turn = -left / stiff if stiff > 0 else np.zeros(len(applied))
    along = shares[:, None] * (turn[:, None, None] * across - applied[:, None, :2])
    load = np.column_stack(
        [-applied[:, 2], along[:, :, 0] @ rise + applied[:, 4], along[:, :, 1] @ rise - applied[:, 3]]
    )
    A = np.column_stack([np.ones(len(plan)), plan])
    hessian = (A * stiffness[:, None]).T @ A
    # Contacts in one line hold no moment about it: nothing is added for that.
    sunk = load @ np.linalg.pinv(hessian, rcond=1e-12, hermitian=True)
    forces[:, :, :2], forces[:, :, 2] = along, stiffness * (sunk @ A.T)
    return forces
