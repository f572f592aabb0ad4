"""Silhouettes of whole skeletons against shapely's union of the same triangles, in the same run, and their growth."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import shapely_oracle
import trimesh

from core_calcs.mesh.element_surface import read_bodies
from core_calcs.mesh.silhouettes import measure_silhouette, outline_body, place_bodies
from core_calcs.mesh.surface import Surface

PEER = "shapely"
DOG = Path(__file__).parents[2] / ".cache" / "dog"
DIRECTION = np.array([0.7, 0.6, 0.0])
COUNTS = (50, 300, 2000)
PEER_COUNT = 300


def run() -> list[dict[str, Any]]:
    """The dog's bones, and lumps of 1 280 triangles in a row, of a number that grows."""
    bones = [body for file in sorted(DOG.glob("BONE*.stl")) for body in read_bodies(DOG, file.name, 1.0)]
    rows = [_bench(f"dog, {len(bones)} bodies", bones, np.tile(np.eye(4), (len(bones), 1, 1)), True)]
    for count in COUNTS:
        surfaces, X = _make_lumps(count)
        rows.append(_bench(f"{count} elements of 1 280 triangles", surfaces, X, count == PEER_COUNT))
    return rows


def _bench(name: str, surfaces: list[Surface], X: np.ndarray, with_peer: bool) -> dict[str, Any]:
    bodies = [outline_body(surface) for surface in surfaces]
    placing, crowd = _time(lambda: place_bodies(bodies, X), 3)
    spent, seen = _time(lambda: measure_silhouette(crowd, DIRECTION), 5)
    note = f"{sum(len(own.faces) for own in surfaces)} triangles; placed once a pose in {1e3 * placing:.0f} ms"
    if not with_peer:
        return _row(name, spent, None, f"{note}; {1e6 * spent / len(surfaces):.0f} µs an element")
    plane = shapely_oracle.find_plane(DIRECTION)
    peer, (parts, union) = _time(lambda: shapely_oracle.cover_all(surfaces, X, plane), 1)
    own = np.array([part.area for part in parts])
    off, worst = seen.area_m2 / union.area - 1, np.abs(seen.own_m2 / own - 1).max()
    return _row(name, spent, peer, f"{note}; {peer / spent:.0f} × as fast; union off by {off:+.3%}, worst {worst:.3%}")


def _make_lumps(count: int) -> tuple[list[Surface], np.ndarray]:
    rng = np.random.default_rng(11)
    ball = trimesh.creation.icosphere(3)
    surfaces, X = [], np.tile(np.eye(4), (count, 1, 1))
    X[:, :3, 3] = rng.normal(size=(count, 3)) * (1.0, 1.0, 0.5) * np.cbrt(count) / 5
    for _ in range(count):
        bumps = 1 + 0.2 * np.sin(4 * ball.vertices @ rng.normal(size=3))
        lump = ball.vertices * bumps[:, None] * rng.uniform(0.03, 0.3, 3)
        surfaces.append(Surface(lump, np.array(ball.faces, np.int64)))
    return surfaces, X


def _time(work: Callable[[], Any], repeats: int) -> tuple[float, Any]:
    """The least processor time of several [s], and what came out."""
    spent, found = [], None
    for _ in range(repeats):
        start = time.process_time()
        found = work()
        spent.append(time.process_time() - start)
    return min(spent), found


def _row(name: str, ours: float, peer: float | None, note: str) -> dict[str, Any]:
    ratio = None if peer is None else ours / peer
    return {
        "name": name, "ours_s": ours, "peer": PEER if peer else None, "peer_s": peer, "ratio": ratio, "note": note
    }  # fmt: skip
