"""Voids of many castings side by side: the same as one after the other, stopped within a moment."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.surface import Surface
from core_calcs.mesh.voids import measure_void
from core_calcs.spatial.errors import Cancelled, MeshFileError
from core_calcs.studies.voids import MOST_AT_ONCE, measure_voids

WALL = 0.006


def make_balls(count: int) -> list[tuple[str, Surface, float]]:
    balls = [trimesh.creation.icosphere(subdivisions=3, radius=0.03 + 0.005 * i) for i in range(count)]
    return [
        (f"ball {i}", Surface(np.array(b.vertices), np.array(b.faces, np.int64)), WALL) for i, b in enumerate(balls)
    ]


def test_side_by_side_is_one_after_the_other() -> None:
    castings, seen = make_balls(9), []
    found = measure_voids(iter(castings), 9, lambda doing, share: seen.append((doing, share)))
    assert set(found) == {name for name, _, _ in castings}
    for name, surface, wall in castings:
        assert found[name].volume_m3 == measure_void(surface, wall).volume_m3
    shares = [share for _, share in seen]
    assert shares == sorted(shares)
    assert all(doing.startswith("void of ball") and 0 <= share < 1 for doing, share in seen)


def test_surfaces_are_taken_as_there_is_room() -> None:
    """No more surfaces are in memory than are worked on, and one that waits."""
    taken = [0]

    def take() -> Iterator[tuple[str, Surface, float]]:
        for casting in make_balls(12):
            taken[0] += 1
            yield casting

    most = [0]

    def note(_doing: str, share: float) -> None:
        most[0] = max(most[0], taken[0] - round(12 * share))

    assert len(measure_voids(take(), 12, note)) == 12
    assert most[0] <= MOST_AT_ONCE + 1


def test_stopped_within_a_moment_and_nothing_goes_on() -> None:
    """A casting that takes some seconds is left in the middle."""
    ball = trimesh.creation.icosphere(subdivisions=5, radius=0.4)
    casting = ("ball", Surface(np.array(ball.vertices), np.array(ball.faces, np.int64)), 0.004)
    asked = [0]

    def stop(_doing: str, _share: float) -> None:
        asked[0] += 1
        if asked[0] == 2:
            raise Cancelled

    before = threading.active_count()
    start = time.process_time()
    with pytest.raises(Cancelled):
        measure_voids([casting], 1, stop)
    spent = time.process_time() - start
    assert threading.active_count() == before
    start = time.process_time()
    measure_void(*casting[1:])
    assert spent < 0.5 * (time.process_time() - start)


def test_what_goes_wrong_in_one_is_handed_on() -> None:
    broken = Surface(np.zeros((3, 3)), np.array([[0, 1, 2]]))
    with pytest.raises(MeshFileError, match="no area"):
        measure_voids([("broken", broken, WALL)], 1)
