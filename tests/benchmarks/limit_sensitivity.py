"""How the limits of the dog's column change with each setting and with the joint's centre, as a table.

    python tests/benchmarks/limit_sensitivity.py

Ranges are low to high end together. A row has, over the 45 joints from C3 to Ca20, the median of each axis's range, and
how much it differs from that at the defaults: median, and the 95th percentile of the size of the change.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import dog_column  # noqa: E402

from core_calcs.articulation.limits import find_limits  # noqa: E402
from core_calcs.skeleton.joint import LimitSettings  # noqa: E402

SETTINGS: tuple[dict[str, float], ...] = (
    {"overlap_share": 0.3},
    {"overlap_share": 0.7},
    {"contact_share_s": 0.01},
    {"contact_share_s": 0.03},
    {"slide_share_s": 0.0},
    {"slide_share_s": 0.015},
    {"slide_share_s": 0.05},
    {"gap_share_s": 0.1},
    {"gap_share_s": 0.2},
)
CENTRES = (("along the column", 1, 0.05), ("along the column", 1, 0.15), ("dorsally", 2, -0.05), ("dorsally", 2, -0.15))
"""Where, the frame's axis, shares of s (z looks ventrally)."""


def main() -> None:
    """Print the table in Markdown."""
    surfaces = dog_column.read_vertebrae(ROOT / ".cache" / "dog", set(dog_column.NAMES))
    joints = list(dog_column.prepare_joints(surfaces).values())
    known = np.array([measure_ranges(joint, LimitSettings()) for joint in joints])
    print("| what | flexion | lateral | axial |\n|---|---|---|---|")
    print(f"| defaults | {' | '.join(f'{np.median(known[:, axis]):.1f}°' for axis in range(3))} |")
    for change in SETTINGS:
        (name, value), settings = *change.items(), replace(LimitSettings(), **change)
        found = np.array([measure_ranges(joint, settings) for joint in joints])
        print(f"| `{name}` {value:g} | {tell_changes(known, found)} |", flush=True)
    for where, axis, share in CENTRES:
        found = np.array([measure_ranges(joint, LimitSettings(), axis, share) for joint in joints])
        print(f"| centre {abs(share):g} s {where} | {tell_changes(known, found)} |", flush=True)


def measure_ranges(joint: Any, settings: LimitSettings, axis: int = 0, share: float = 0.0) -> np.ndarray:
    """(3,) ranges [deg], the centre moved along one of the frame's axes by a share of s."""
    X_WJ = joint.X_WJ.copy()
    X_WJ[:3, 3] += X_WJ[:3, axis] * share * joint.size
    limits = find_limits(joint.parent, joint.child, joint.pairs, X_WJ, joint.senses, settings)
    return np.degrees([limit.high.angle_rad - limit.low.angle_rad for limit in limits])


def tell_changes(known: np.ndarray, found: np.ndarray) -> str:
    """E.g. "18.1° (+1.2, up to 5.0)" for each axis."""
    change = found - known
    middle, shift, most = np.median(found, axis=0), np.median(change, axis=0), np.percentile(np.abs(change), 95, axis=0)
    return " | ".join(f"{middle[k]:.1f}° ({shift[k]:+.1f}, up to {most[k]:.1f})" for k in range(3))


if __name__ == "__main__":
    main()
