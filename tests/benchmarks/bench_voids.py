"""The voids of hollow castings of a whole skeleton: the dog eight times its size, a wall of 5 mm, all bodies."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

from core_calcs.mesh.element_surface import read_bodies
from core_calcs.mesh.survey import survey_piece
from core_calcs.studies.voids import measure_voids

BONES = Path(__file__).parents[2] / ".cache" / "dog"
SCALE, WALL_M = 8.0, 0.005
ALLOWED_S = 120.0
"""What the work may take on two cores."""


def run() -> list[dict[str, Any]]:
    """One row: all bodies, against the time allowed; wall time once, so that the machine has to be idle; processor
    time tells where it is not."""
    bodies = [body for path in sorted(BONES.glob("*.stl")) for body in read_bodies(BONES, path.name, SCALE)]
    solid = sum(survey_piece(body)[1].volume_m3 for body in bodies)
    start, cpu = time.perf_counter(), time.process_time()
    castings = ((str(i), body, WALL_M) for i, body in enumerate(bodies))
    void = sum(own.volume_m3 for own in measure_voids(castings, len(bodies)).values())
    spent, cpu = time.perf_counter() - start, time.process_time() - cpu
    metal = f"{100 * (1 - void / solid):.1f} % metal"
    return [
        {
            "name": f"voids of {len(bodies)} bodies, {sum(len(body.faces) for body in bodies)} triangles",
            "ours_s": spent,
            "peer": "time allowed on two cores",
            "peer_s": ALLOWED_S,
            "ratio": spent / ALLOWED_S,
            "note": f"the dog ×{SCALE:g}, wall {1000 * WALL_M:g} mm: {metal}; {cpu:.0f} s of processor time",
        }
    ]
