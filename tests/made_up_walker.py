"""A made-up animal on four legs: a trunk, and in each leg a thigh, a shank, a metapodium and two toes."""

from __future__ import annotations

import numpy as np

from core_calcs.skeleton.element import Element
from core_calcs.skeleton.joint import AxisLimit, Joint, Stop
from core_calcs.skeleton.tree import Contact, Foot, Skeleton, build_skeleton
from core_calcs.spatial.transforms import make_transform
from tests.made_up_chain import make_element

HIP_M, LENGTHS_M, TOE_M = 0.9, (0.4, 0.35, 0.15), 0.1
"""Height of the hips; of thigh, shank and metapodium; of the toes, which lie on the ground."""
WIDE_DEG = ((60, 25, 20), (60, 5, 5), (60, 8, 5), (50, 5, 5))
"""Flexion, lateral, axial to either side, from the hip down to the toes."""


def make_limits(widest_deg: tuple[float, float, float]) -> tuple[AxisLimit, ...]:
    """Six ends, the same to either side."""
    ends = np.radians(widest_deg)
    return tuple(AxisLimit(*(Stop(float(sign * end), "bone contact", np.zeros(3)) for sign in (-1, 1))) for end in ends)


def make_joint(parent: Element, child: Element, at: np.ndarray, widest_deg: tuple[float, float, float]) -> Joint:
    """Flexion about the animal's left, the long axis down."""
    X_WJ = make_transform(np.stack([[0.0, 1, 0], [0, 0, -1], [-1, 0, 0]], axis=1), at)
    return Joint(
        parent.name, child.name, "limb", X_WJ, (1, 1, 1), make_limits(widest_deg), (), "found", "made up", None
    )  # type: ignore[arg-type]


def make_walker(rays: bool = False) -> Skeleton:
    """Stands on the ground, its legs a little bent: thigh forwards, shank back, metapodium forwards.

    rays : every toe on a metatarsal of its own, which turns on the tarsal; else all on one metapodium
    """
    trunk = make_element("sacrum", "sacral", None, "middle", np.array([0.0, 0.0, HIP_M + 0.1]))
    elements, joints, feet = [trunk], [], []
    for end, x in (("fore", 0.5), ("hind", -0.5)):
        for side, y in (("left", 0.2), ("right", -0.2)):
            at, above, own = np.array([x, y, HIP_M]), trunk, []
            for k, (part, lean) in enumerate(zip(("thigh", "shank", "metapodium"), (0.3, -0.35, 0.3), strict=True)):
                after = at + LENGTHS_M[k] * np.array([np.sin(lean), 0.0, -np.cos(lean)])
                name, middle = f"{end} {part} {side}", (at + after) / 2
                if rays and part == "metapodium":
                    name, middle = f"{end} tarsal {side}", at - 0.01
                own.append(make_element(name, "limb", None, side, middle))
                joints.append(make_joint(above, own[-1], at, WIDE_DEG[k]))
                at, above = after, own[-1]
            carrier, ankle, ends = above, at - LENGTHS_M[2] * np.array([np.sin(0.3), 0.0, -np.cos(0.3)]), []
            for digit, apart in ((2, 0.02), (3, -0.02)):
                if rays:
                    beside = np.array([0, apart, 0])
                    above = make_element(
                        f"{end} metatarsal {digit} {side}", "limb", None, side, (ankle + at) / 2 + beside
                    )
                    joints.append(make_joint(carrier, above, ankle + beside, (15, 5, 5)))
                    ends.append(above)
                toe = make_element(
                    f"{end} toe {digit} {side}", "limb", None, side, at + np.array([TOE_M / 2, apart, 0])
                )
                joints.append(make_joint(above, toe, at + np.array([0, apart, 0]), WIDE_DEG[3]))
                own.append(toe)
            elements += [*own, *ends]
            bases = ends or own[2:3]
            contacts = [Contact(base.name, (at - base.X_WE[:3, 3])[None]) for base in bases]
            contacts += [Contact(toe.name, np.array([[-0.03, 0, 0], [0.04, 0, 0]])) for toe in own[3:]]
            feet.append(Foot(f"{end} {side} foot", tuple(contacts)))
    return build_skeleton("walker", tuple(elements), tuple(joints), tuple(feet))
