"""Target and pose one over the other, side view above the top view, to look at."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from eye import PITCH_M, Pictures

from core_calcs.handover.png import encode_png

BOTH, TARGET, POSE, NONE = (0.5, 0.5, 0.5, 1.0), (0.84, 0.37, 0.0, 1.0), (0.0, 0.45, 0.7, 1.0), (1.0, 1.0, 1.0, 1.0)
"""Colours of what both cover, the target alone, the pose alone, neither."""
MARGIN = int(0.2 / PITCH_M)


def write_overlay(path: Path, target: Pictures, pose: Pictures) -> None:
    """Grey is covered by both, orange by the target alone, blue by the pose alone."""
    drawn = []
    for view in ("side", "top"):
        one, other = target[view][::-1], pose[view][::-1]
        colours = np.array([NONE, TARGET, POSE, BOTH])[one + 2 * other]
        rows = np.flatnonzero((one | other).any(axis=1))
        drawn.append(colours[max(rows[0] - MARGIN, 0) : rows[-1] + MARGIN])
    path.write_bytes(encode_png(np.concatenate(drawn)))
