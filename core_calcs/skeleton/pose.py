"""A pose: the angles of the joints and where the whole stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from ..spatial.transforms import Array

AS_SCANNED = "as scanned"
"""Name of the first pose that a new document gets: every element where its file has it."""


@dataclass(frozen=True, eq=False)
class Pose:
    """A named set of joint angles.

    angles_rad : (3,) flexion, lateral, axial by the joint's child; a joint that is not named is at neutral
    X_WN : (4, 4) from the world of the neutral articulation to the pose's world: moves the whole
    idle_feet : names of feet that bear nothing in this pose, even where they touch the ground
    """

    name: str
    angles_rad: Mapping[str, Array] = field(default_factory=dict)
    X_WN: Array = field(default_factory=lambda: np.eye(4))
    note: str = ""
    idle_feet: tuple[str, ...] = ()
