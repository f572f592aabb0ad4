"""Reading, surveying and measuring a surface of two million triangles, against trimesh in the same run."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import trimesh

from core_calcs.mesh.mass_properties import measure_polyhedron
from core_calcs.mesh.reading import read_surface
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body

PEER = "trimesh"
SUBDIVISIONS = 8
"""20 · 4^8 = 1.3 million triangles a ball."""
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def run() -> list[dict[str, Any]]:
    """One made-up binary STL: a rough ball, and a part of it beside, 2.0 million triangles in two bodies."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "rough.stl"
        corners = _make_corners()
        _write_stl(path, corners)
        count = f"{len(corners) / 1e6:.1f}M triangles"
        read = _time(lambda: read_surface(path, 1.0))
        peer_read = _time(lambda: trimesh.load_mesh(path, process=False))
        whole = _time(lambda: survey_body(read_surface(path, 1.0)))
        peer_whole = _time(lambda: _survey_by_peer(path))
        surface, solid = survey_body(read_surface(path, 1.0))
    ball = Surface(*_closed_ball())
    peer_ball = trimesh.Trimesh(ball.vertices, ball.faces, process=False)
    measured = _time(lambda: measure_polyhedron(ball))
    peer_measured = _time(lambda: trimesh.triangles.mass_properties(peer_ball.triangles))
    away = abs(measure_polyhedron(ball).volume_m3 / float(peer_ball.volume) - 1)
    note = f"{len(surface.faces)} triangles, states {', '.join(solid.states)}; the peer merges, splits and measures"
    return [
        _row(f"reading a binary STL, {count}", read, peer_read, "vertices and faces as they are"),
        _row(f"reading and surveying, {count}", whole, peer_whole, note),
        _row("mass properties, 1.3M triangles", measured, peer_measured, f"volumes differ by {away:.1g} of the whole"),
    ]


def _closed_ball() -> tuple[np.ndarray, np.ndarray]:
    ball = trimesh.creation.icosphere(subdivisions=SUBDIVISIONS)
    x, y, z = np.array(ball.vertices).T
    rough = 1 + 0.02 * np.sin(40 * x) * np.sin(37 * y) * np.sin(31 * z)
    return np.array(ball.vertices) * rough[:, None], np.array(ball.faces, np.int64)


def _make_corners() -> np.ndarray:
    vertices, faces = _closed_ball()
    corners = vertices[faces]
    beside = corners[:700000] + np.array((3.0, 0.0, 0.0))
    return np.concatenate([corners, beside])


def _write_stl(path: Path, corners: np.ndarray) -> None:
    records = np.zeros(len(corners), _RECORD)
    records["corners"] = corners
    with path.open("wb") as stream:
        stream.write(b"made up".ljust(80) + np.uint32(len(corners)).tobytes() + records.tobytes())


def _survey_by_peer(path: Path) -> None:
    mesh = trimesh.load_mesh(path)
    labels = trimesh.graph.connected_component_labels(mesh.face_adjacency, len(mesh.faces))
    for label in np.unique(labels):
        body = mesh.submesh([np.flatnonzero(labels == label)], append=True, repair=False)
        assert body.is_watertight in (True, False)
        assert body.mass_properties is not None


def _time(work: Callable[[], Any], repeats: int = 2) -> float:
    """The least wall time of several [s]."""
    spent = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    return min(spent)


def _row(name: str, ours: float, peer: float, note: str) -> dict[str, Any]:
    return {"name": name, "ours_s": ours, "peer": PEER, "peer_s": peer, "ratio": ours / peer, "note": note}
