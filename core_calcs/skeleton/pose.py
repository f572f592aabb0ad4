"""A pose: the angles of the joints and where the whole stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from ..spatial.transforms import Array

AS_SCANNED = "as scanned"
"""Name of the first pose that a new document gets: every element where its file has it."""
AS_MOUNTED = "as mounted before"
"""Name of the pose that keeps where every element stood before the first correction."""


@dataclass(frozen=True, eq=False)
class Pose:
    """A named set of joint angles, or the places that elements were mounted at, joints or not.

    angles_rad : (3,) flexion, lateral, axial by the joint's child; a joint that is not named is at neutral
    X_WN : (4, 4) from the world of the neutral articulation to the pose's world: moves the whole
    idle_feet : names of feet that bear nothing in this pose, even where they touch the ground
    mounted : (4, 4) X_WE by element, in the world of the neutral articulation: where each stood; an element that is not
        named stands against its parent as at neutral. Empty of a pose of joint angles, which such a pose has none of
    """

    name: str
    angles_rad: Mapping[str, Array] = field(default_factory=dict)
    X_WN: Array = field(default_factory=lambda: np.eye(4))
    note: str = ""
    idle_feet: tuple[str, ...] = ()
    mounted: Mapping[str, Array] = field(default_factory=dict)
