"""Clearance of a whole made-up skeleton and of what a dragged joint moves, against python-fcl in the same run.

fcl says only whether two surfaces cut each other: neither how deep, nor what was there at neutral already. Times are
the processor's, all threads together, so that what else the machine does is left out as far as it can be.
"""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import fcl
import numpy as np
import random_skeletons
import trimesh

from core_calcs.mesh.reading import hash_file
from core_calcs.skeleton.element import Source
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Skeleton
from core_calcs.studies.clearance import PreparedClearance, prepare_clearance, try_pose

PEER = "python-fcl"
COUNTS = (75, 150, 300)
CHAIN = 20
"""So many elements, or the next fewer, go with the joint that is dragged."""


def run() -> list[dict[str, Any]]:
    """Trees of lumps of 5 120 triangles, turned at every joint, then joints of the largest dragged."""
    rows = []
    with tempfile.TemporaryDirectory() as name:
        for count in COUNTS:
            skeleton = _make_skeleton(count, Path(name))
            spent, prepared = _time(lambda: prepare_clearance(skeleton, Path(name)), 1)  # noqa: B023  used at once
            pose = random_skeletons.make_random_pose(skeleton, np.random.default_rng(3), 0.3)
            rows.append(_bench_whole(prepared, pose))
            if count == COUNTS[-1]:
                rows.append(_bench_chain(prepared, pose))
                rows.append(_bench_every_chain(prepared, pose))
                note = f"once for a skeleton, files read; load {os.getloadavg()[0]:.1f}"
                rows.append(_row(f"made ready, {count} elements", spent, None, note))
    return rows


def _bench_whole(prepared: PreparedClearance, pose: Pose) -> dict[str, Any]:
    count = len(prepared.skeleton.elements)
    spent, tried = _time(lambda: try_pose(prepared, pose))
    objects = _make_objects(prepared, tried.motions)
    manager = fcl.DynamicAABBTreeCollisionManager()
    manager.registerObjects(objects)

    def ask() -> int:
        manager.setup()
        data = fcl.CollisionData(request=fcl.CollisionRequest(num_max_contacts=1_000_000, enable_contact=True))
        manager.collide(data, fcl.defaultCollisionCallback)
        return len({(id(contact.o1), id(contact.o2)) for contact in data.result.contacts})

    peer = _time(ask)[0]
    note = f"{len(tried.pairs)} pairs near, {len(tried.overlaps.pairs)} run in; the peer: whether they cut"
    return _row(f"whole, {count} elements of 5k triangles", spent, peer, note)


def _bench_chain(prepared: PreparedClearance, pose: Pose) -> dict[str, Any]:
    child, moved = _choose_chain(prepared.skeleton)
    before, dragged = try_pose(prepared, pose), _drag(pose, child)
    spent, tried = _time(lambda: try_pose(prepared, dragged, before), 5)
    objects = _make_objects(prepared, tried.motions)
    still = [objects[i] for i in range(len(objects)) if i not in moved]
    manager = fcl.DynamicAABBTreeCollisionManager()
    manager.registerObjects(still)
    manager.setup()

    def ask() -> None:
        for i in moved:
            data = fcl.CollisionData(request=fcl.CollisionRequest(num_max_contacts=1_000_000, enable_contact=True))
            manager.collide(objects[i], data, fcl.defaultCollisionCallback)

    note = f"{len(moved)} of {len(objects)} elements move as one against the rest; the same for the peer"
    note += f"; load {os.getloadavg()[0]:.1f}"
    return _row("one joint dragged, its chain against the rest", spent, _time(ask, 5)[0], note)


def _bench_every_chain(prepared: PreparedClearance, pose: Pose) -> dict[str, Any]:
    before, spent = try_pose(prepared, pose), []
    for joint in prepared.skeleton.joints:
        if joint.moves:
            dragged = _drag(pose, joint.child)
            spent.append(_time(lambda: try_pose(prepared, dragged, before))[0])  # noqa: B023  used at once
    note = f"median {np.median(spent) * 1e3:.1f} ms of {len(spent)} joints; load {os.getloadavg()[0]:.1f}"
    return _row("one joint dragged, the worst of all", max(spent), None, note)


def _drag(pose: Pose, child: str) -> Pose:
    return replace(pose, angles_rad={**pose.angles_rad, child: pose.angles_rad[child] + 0.03})


def _choose_chain(skeleton: Skeleton) -> tuple[str, list[int]]:
    """The joint whose branch is nearest to the size wanted from below."""
    parents = skeleton.parents
    branches: list[list[int]] = [[i] for i in range(len(parents))]
    for i in range(len(parents) - 1, 0, -1):
        branches[parents[i]] += branches[i]
    best = max(range(1, len(parents)), key=lambda i: len(branches[i]) if len(branches[i]) <= CHAIN else 0)
    return skeleton.elements[best].name, branches[best]


def _make_skeleton(count: int, folder: Path) -> Skeleton:
    """Lumps about 0.3 m apart, each in a file of its own; half of them run into their parents at neutral."""
    rng = np.random.default_rng(7)
    skeleton = random_skeletons.make_random_skeleton(count, rng)
    ball, elements = trimesh.creation.icosphere(4), []
    for element in skeleton.elements:
        half = (element.solid.upper_m - element.solid.lower_m) / 2
        bumps = 1 + 0.15 * np.sin(5 * ball.vertices @ rng.normal(size=3))
        lump = trimesh.Trimesh(
            ball.vertices * bumps[:, None] * half + element.solid.centre_m, ball.faces, process=False
        )
        path = folder / f"{element.name}.stl"
        lump.export(path)
        source = Source(path.name, None, 1.0, hash_file(path))
        solid = replace(element.solid, volume_m3=float(lump.volume))
        elements.append(replace(element, source=source, solid=solid))
    return replace(skeleton, elements=tuple(elements))


def _make_objects(prepared: PreparedClearance, motions: np.ndarray) -> list[fcl.CollisionObject]:
    objects = []
    for body, X in zip(prepared.crowd.bodies, motions @ prepared.X_WE @ prepared.crowd.X_EB, strict=True):
        model = fcl.BVHModel()
        model.beginModel(len(body.surface_B.vertices), len(body.surface_B.faces))
        model.addSubModel(body.surface_B.vertices, body.surface_B.faces.astype(np.int32))
        model.endModel()
        objects.append(fcl.CollisionObject(model, fcl.Transform(X[:3, :3].copy(), X[:3, 3].copy())))
    return objects


def _time(work: Callable[[], Any], repeats: int = 3) -> tuple[float, Any]:
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
