"""How the quay strider is posed: limits for joints that have to be set by hand, and the poses."""

from __future__ import annotations

from dataclasses import dataclass, field

FORWARDS, BACKWARDS = (0.0, -1.0, 0.0), (0.0, 1.0, 0.0)
"""Flexion axes of a limb that hangs down: it swings towards the head, or towards the tail, for angles above zero."""

BY_HAND = {
    "skull": (FORWARDS, (-20, 25), (-25, 25), (-10, 10)),
    "femur": (FORWARDS, (-45, 60), (-10, 25), (-15, 15)),
    "tibia": (BACKWARDS, (-15, 60), (0, 0), (0, 0)),
    "astragalus": (FORWARDS, (-40, 30), (0, 0), (0, 0)),
    "humerus": (FORWARDS, (-40, 60), (-10, 30), (-20, 20)),
    "ulna": (FORWARDS, (-10, 50), (0, 0), (0, 0)),
    "carpal": (BACKWARDS, (-30, 60), (0, 0), (0, 0)),
    "hand": (BACKWARDS, (-20, 60), (0, 0), (0, 0)),
    "foot": (BACKWARDS, (-40, 40), (0, 0), (0, 0)),
}
"""Flexion axis and limits [degrees] as a user would set them by hand where surfaces do not tell a joint: by the first
word of the child's name. The poses keep within them."""


SWUNG = ("femur", "humerus")
"""What hangs on balls."""

ALLOY, WALL_M = "CuAl10Fe5Ni5-C (CC333G)", 0.008
"""What it is cast in, and the wall of the hollow castings."""

TAIL = ("tail", [f"caudal {n}" for n in range(20, 45)])
"""What touches the ground besides the feet: its name, and the bones that carry it."""

TAIL_END = 19
"""The first vertebra of the part of the tail that lies on the ground."""


@dataclass(frozen=True)
class StriderPose:
    """A pose as an artist would make it.

    series : shares of whole series' ranges, flexion and lateral
    flexion_deg : of single joints, by child
    pitch_deg : of the trunk, head down
    tail_end : share of the range that the end of the tail is flexed by, where it is another than the rest's
    level : tilt the whole a little, so that all that is to stand does
    """

    series: dict[str, tuple[float, float]] = field(default_factory=dict)
    flexion_deg: dict[str, float] = field(default_factory=dict)
    pitch_deg: float = 0.0
    tail_end: float | None = None
    level: bool = False


def both_legs(femur: float, tibia: float, astragalus: float) -> dict[str, float]:
    """The same flexion [degrees] left and right."""
    legs = {"femur": femur, "tibia": tibia, "astragalus": astragalus}
    return {f"{bone} {side}": angle for bone, angle in legs.items() for side in ("left", "right")}


POSES = {
    "standing": StriderPose(flexion_deg=both_legs(-8, 0, 8)),
    "stooping": StriderPose(
        {"cervical": (0.35, 0.0), "caudal": (-0.12, 0.0)},
        {**both_legs(19, 0, 11), "skull": -10},
        pitch_deg=30.0,
    ),
    "running": StriderPose(
        {"cervical": (-0.2, 0.0), "caudal": (-0.15, -0.1)},
        {
            **{"femur left": 8, "tibia left": 10, "astragalus left": 2},
            **{"femur right": -30, "tibia right": 15.7, "astragalus right": 10},
            **{"ulna left": 40, "ulna right": 40},
        },
    ),
    "resting": StriderPose(
        {"cervical": (0.3, 0.0), "caudal": (0.156, 0.0)},
        {**both_legs(20, 60, 18), "skull": 7, "ulna left": 30, "ulna right": 30},
        pitch_deg=-22.0,
        tail_end=-0.45,
        level=True,
    ),
}
"""Near neutral; snout low; on one foot and a toe, where it would tip; back on the tail, on three contacts."""

LEFT_AT = "standing"
"""The pose that the .blend is left in."""
