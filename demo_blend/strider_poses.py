"""How the quay strider is posed: limits of the joints set by hand, and the poses."""

from __future__ import annotations

from dataclasses import dataclass, field

FORWARDS, BACKWARDS = (0.0, -1.0, 0.0), (0.0, 1.0, 0.0)
"""Flexion axes of a limb that hangs down: it swings towards the head, or towards the tail, for angles above zero."""

LIMB_JOINTS = {
    "skull": (FORWARDS, (-20, 25), (-25, 25), (-10, 10)),
    "femur": (FORWARDS, (-45, 60), (-10, 25), (-15, 15)),
    "tibia": (BACKWARDS, (-15, 80), (0, 0), (0, 0)),
    "astragalus": (FORWARDS, (-40, 50), (0, 0), (0, 0)),
    "humerus": (FORWARDS, (-40, 60), (-10, 30), (-20, 20)),
    "ulna": (FORWARDS, (-10, 90), (0, 0), (0, 0)),
}
"""Joints without facets that the core could use: flexion axis and limits [degrees] as a user would set them."""


@dataclass(frozen=True)
class StriderPose:
    """A pose as an artist would make it.

    series : shares of whole series' ranges, flexion and lateral
    flexion_deg : of single joints, by child
    pitch_deg : of the trunk, head down
    """

    series: dict[str, tuple[float, float]] = field(default_factory=dict)
    flexion_deg: dict[str, float] = field(default_factory=dict)
    pitch_deg: float = 0.0


POSES = {
    "standing": StriderPose(),
    "stooping": StriderPose(
        {"dorsal": (0.37, 0.0), "cervical": (0.30, 0.0), "caudal": (-0.18, 0.0)},
        {"femur left": 22, "femur right": 22, "skull": -15},
        22.0,
    ),
    "running": StriderPose(
        {"cervical": (-0.2, 0.0), "caudal": (-0.15, 0.1)},
        {
            **{"femur left": 14, "tibia left": 10, "astragalus left": -4},
            **{"femur right": -22, "tibia right": 26, "astragalus right": 10},
            **{"ulna left": 40, "ulna right": 40},
        },
    ),
}

LEFT_AT = "standing"
"""The pose that the .blend is left in."""
