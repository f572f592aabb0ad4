"""Six poses that the poser is not told, drawn by a rule from a seed; it sees their silhouettes alone.

The rule was set before anything was measured. Every chain's joints take shares of their own ranges that run along it
as a line with a wave on it; limbs and skull take shares joint by joint; the whole is pitched and shifted. A joint that
would leave its envelope takes less of its angles, a tenth at a time, until it is inside.
"""

from __future__ import annotations

import numpy as np

from core_calcs.skeleton.envelope import measure_inside
from core_calcs.skeleton.joint import Joint
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Skeleton
from core_calcs.spatial.transforms import make_transform

SEED, COUNT = 8, 6
CHAINS = {"dorsal": (0.35, 0.3, 0.15), "cervical": (0.5, 0.4, 0.2), "caudal": (0.3, 0.5, 0.15)}
"""By series, greatest mean share and slope of flexion and lateral bending, and height of the wave."""
LIMBS = {
    "skull": ((-0.6, 0.6), (-0.5, 0.5)),
    "femur": ((-0.5, 0.5), (-0.2, 0.3)),
    "tibia": ((0.0, 0.7), (0.0, 0.0)),
    "astragalus": ((-0.5, 0.5), (0.0, 0.0)),
    "humerus": ((-0.5, 0.5), (-0.2, 0.3)),
    "ulna": ((0.0, 0.7), (0.0, 0.0)),
}
"""By the first word of a bone's name, least and greatest share of flexion and lateral bending."""
PITCH_DEG, SHIFT_M = 10.0, (0.1, 0.0, 0.1)
"""Greatest pitch of the whole about the sacrum, and shift along each axis."""


def draw_poses(skeleton: Skeleton, seed: int = SEED, count: int = COUNT) -> list[Pose]:
    """The hidden poses."""
    rng = np.random.default_rng(seed)
    return [_draw_pose(skeleton, rng, f"target {k + 1}") for k in range(count)]


def _draw_pose(skeleton: Skeleton, rng: np.random.Generator, name: str) -> Pose:
    angles = {}
    elements = {element.name: element for element in skeleton.elements}
    for series, (flexion, lateral, wave) in CHAINS.items():
        joints = [j for j in skeleton.joints if j.kind == "column" and elements[j.child].series == series]
        joints.sort(key=lambda j: elements[j.child].position or 0)
        u = np.linspace(0, 1, len(joints))
        for axis, most in enumerate((flexion, lateral)):
            mean, slope = rng.uniform(-most, most, 2)
            bent = mean + slope * (u - 0.5) + wave * rng.uniform(-1, 1) * np.sin(2 * np.pi * (u + rng.uniform()))
            for joint, share in zip(joints, np.clip(bent, -0.95, 0.95), strict=True):
                angles.setdefault(joint.child, np.zeros(3))[axis] = _take_share(joint, axis, float(share))
    for joint in skeleton.joints:
        kind = joint.child.partition(" ")[0]
        if joint.moves and kind in LIMBS:
            shares = [rng.uniform(*ends) for ends in LIMBS[kind]]
            angles[joint.child] = np.array([*(_take_share(joint, i, s) for i, s in enumerate(shares)), 0.0])
    for joint in skeleton.joints:
        while joint.child in angles and measure_inside(joint.limits, joint.envelope, angles[joint.child]) < 0:
            angles[joint.child] = angles[joint.child] * 0.9
    return Pose(name, angles, _draw_placement(skeleton, rng))


def _take_share(joint: Joint, axis: int, share: float) -> float:
    limit = joint.limits[axis]
    return abs(share) * (limit.high if share > 0 else limit.low).angle_rad


def _draw_placement(skeleton: Skeleton, rng: np.random.Generator) -> np.ndarray:
    pitch = np.radians(rng.uniform(-1, 1) * PITCH_DEG)
    c, s = np.cos(pitch), np.sin(pitch)
    R, pivot = np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]]), skeleton.root.solid.centre_m
    return make_transform(R, pivot - R @ pivot + rng.uniform(-1, 1, 3) * SHIFT_M)
