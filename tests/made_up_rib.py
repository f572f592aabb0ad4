"""A made-up vertebra and rib: a block with two cups, and a rod that hangs in them by two balls; no unit is meant."""

from __future__ import annotations

import numpy as np

from core_calcs.mesh.surface import Surface
from tests.made_up_limbs import ball, block, cut, join, make_mesh, rod

HEAD, TUBERCLE = np.array([0.0, 0.0, 0.0]), np.array([0.3, 0.9, 0.0])
"""Centres of the balls."""


def make_vertebra_and_rib() -> tuple[Surface, Surface]:
    cups = cut(block((0.15, 0.45, 0.55), (0.6, 0.9, 0.5), rounding=0.05), *(ball(at, 0.27) for at in (HEAD, TUBERCLE)))
    rib = join(ball(HEAD, 0.22), ball(TUBERCLE, 0.22), rod(HEAD, TUBERCLE, 0.12), rod(TUBERCLE, (0.9, 2.4, -1.5), 0.14))
    return (
        Surface(*make_mesh(cups, (0.15, 0.45, 0.5), 1.3, 0.03)),
        Surface(*make_mesh(rib, (0.4, 1.1, -0.6), 2.0, 0.03)),
    )


def make_stub() -> Surface:
    """A rib with a head alone."""
    return Surface(*make_mesh(join(ball(HEAD, 0.22), rod(HEAD, (0, -1.5, -1), 0.15)), (0, -0.7, -0.5), 1.3, 0.03))
