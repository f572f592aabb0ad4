"""The coupled envelope of joints of the dog, against every attitude of a grid over the box tried by itself."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import dog_column
import numpy as np

from core_calcs.articulation import envelopes
from core_calcs.articulation.limits import find_limit, prepare_coverings, prepare_trial, try_angles
from core_calcs.skeleton.envelope import lie_inside, measure_volume_deg3
from core_calcs.skeleton.joint import LimitSettings

BONES = Path(__file__).parents[2] / ".cache" / "dog"
JOINTS = ("C_5", "L_4", "Ca_12")
SHAPE = (24, 24, 25)
"""14 400 attitudes, the middles of as many equal parts of the box."""


def run() -> list[dict[str, Any]]:
    """A row a joint: processor time of the envelope, of the grid, share of attitudes tried, agreement."""
    surfaces = dog_column.read_vertebrae(BONES, set(dog_column.NAMES))
    joints = dog_column.prepare_joints(surfaces, JOINTS)
    return [_compare(name, joint) for name, joint in joints.items()]


def _compare(name: str, joint: Any) -> dict[str, Any]:
    settings = LimitSettings()
    facets = prepare_coverings(joint.pairs, joint.size)
    begun = time.process_time()
    trial = prepare_trial(joint.parent, joint.child, facets, joint.X_WJ, joint.senses, settings)
    limits = [find_limit(trial, axis, settings.search_rad) for axis in range(3)]
    limits_s = time.process_time() - begun
    tried: list[int] = []

    def try_counted(*given: Any) -> Any:
        tried.append(1)
        return try_angles(*given)

    envelopes.try_angles, whole = try_counted, envelopes.try_angles
    begun = time.process_time()
    envelope = envelopes.find_envelope(trial, limits)
    ours = time.process_time() - begun
    envelopes.try_angles = whole
    assert envelope is not None
    box = np.array([(limit.low.angle_rad, limit.high.angle_rad) for limit in limits])
    steps = [low + (np.arange(n) + 0.5) / n * (high - low) for (low, high), n in zip(box, SHAPE, strict=True)]
    grid = np.stack(np.meshgrid(*steps, indexing="ij"), axis=-1).reshape(-1, 3)
    begun = time.process_time()
    free = np.array([try_angles(trial, angles) is None for angles in grid])
    peer = time.process_time() - begun
    inside = lie_inside(envelope, grid)
    share = measure_volume_deg3(envelope) / np.prod(np.degrees(box[:, 1] - box[:, 0]))
    same, loose = (inside == free).mean(), (inside & ~free).mean()
    note = (
        f"tried {len(tried)} of {len(grid)} ({100 * len(tried) / len(grid):.0f} %), same verdict {same:.1%}, allowed "
        f"though stopped {loose:.1%}; {share:.2f} of the box; six limits {limits_s:.2f} s"
    )
    return {
        "name": f"envelope of {name}, s of one core",
        "ours_s": ours,
        "peer": "full grid",
        "peer_s": peer,
        "ratio": ours / peer,
        "note": note,
    }
