"""Reaching by a whole chain in one step of a drag, beside a bounded least-squares solver of a general library.

The peer is scipy's `least_squares` on the same misses and the same wish to stay near the start, from the same warm
start, with the six limits as bounds: it knows nothing of the coupled envelopes, and may leave them. Times are of the
processor.
"""

from __future__ import annotations

import time
from typing import Any

import made_up_chain
import numpy as np
from scipy.optimize import least_squares

from core_calcs.posing.bounds import lie_within
from core_calcs.posing.linkage import find_axes, link_elements, move_linkage
from core_calcs.posing.reaching import MISS
from core_calcs.skeleton.pose import Pose
from core_calcs.studies.posing import PlaceGoal, Posing, hold_joint, prepare_posing, reach

COUNTS = (15, 30, 60, 120)
DRAG, TIP, NEUTRAL = 40, "cervical 1", Pose("neutral")


def run() -> list[dict[str, Any]]:
    """A row a length of chain, and one of a joint held in its range."""
    return [_drag(prepare_posing(made_up_chain.make_column(count)), count) for count in COUNTS] + [_hold()]


def list_places(count: int) -> np.ndarray:
    """A drag from near where the tip stands, in and up and to the left: (n, 3) [m]."""
    t, far = np.linspace(0, 1, DRAG), made_up_chain.LENGTH_M * count
    return far * np.stack([1 - 0.25 * t, 0.01 + 0.3 * np.sin(2 * t), 0.01 + 0.2 * t], axis=1)


def _drag(posing: Posing, count: int) -> dict[str, Any]:
    pose, ours, peers, missed, peer_missed, outside = NEUTRAL, [], [], [], [], 0
    angles = np.zeros((count, 3))
    for place in list_places(count):
        goal = PlaceGoal(TIP, np.zeros(3), place)
        begun = time.process_time()
        reached = reach(posing, pose, [goal], "neck", start=NEUTRAL)
        ours.append(time.process_time() - begun)
        pose, far = reached.pose, reached.misses[0]
        missed.append(far / posing.size_m)
        begun = time.process_time()
        angles = _solve_by_peer(posing, place, angles)
        peers.append(time.process_time() - begun)
        peer_missed.append(_miss(posing, angles, place)[0] / posing.size_m)
        outside = max(outside, int((~lie_within(posing.bounds, angles, 1e-9)).sum()))
    note = (
        f"worst of {DRAG} steps {1000 * max(ours):.1f} ms; missed by {max(missed):.1e} of the length at most, the peer "
        f"by {max(peer_missed):.1e} with up to {outside} joints outside their envelopes, we none; medians"
    )
    name = f"a step of a drag, {count} joints"
    ours_s, peer_s = float(np.median(ours)), float(np.median(peers))
    return {
        "name": name,
        "ours_s": ours_s,
        "peer": "scipy least_squares, trf, box alone",
        "peer_s": peer_s,
        "ratio": ours_s / peer_s,
        "note": note,
    }


def _miss(posing: Posing, angles: np.ndarray, place: np.ndarray) -> tuple[float, np.ndarray, np.ndarray, np.ndarray]:
    linkage = link_elements(posing.skeleton, posing.movers, [TIP])
    every = np.concatenate([np.zeros((1, 3)), angles])
    motions = move_linkage(linkage, every, np.eye(4))
    tip = motions[-1] @ posing.skeleton.elements[-1].X_WE
    axes, centres = find_axes(linkage, every, motions)
    return float(np.linalg.norm(place - tip[:3, 3])), tip[:3, 3], axes[1:], centres[1:]


def _solve_by_peer(posing: Posing, place: np.ndarray, start: np.ndarray) -> np.ndarray:
    widths = posing.bounds.widths

    def fall_short(x: np.ndarray) -> np.ndarray:
        _, tip, _, _ = _miss(posing, x.reshape(-1, 3), place)
        return np.concatenate([(tip - place) / (MISS * posing.size_m), x / widths.ravel()])

    def differentiate(x: np.ndarray) -> np.ndarray:
        _, tip, axes, centres = _miss(posing, x.reshape(-1, 3), place)
        turns = np.cross(axes, (tip - centres)[:, None]).reshape(-1, 3).T / (MISS * posing.size_m)
        return np.concatenate([turns, np.diag(1 / widths.ravel())])

    box = posing.bounds.low.ravel(), posing.bounds.high.ravel()
    inside = np.clip(start.ravel(), box[0] + 1e-9, box[1] - 1e-9)
    found = least_squares(fall_short, inside, differentiate, bounds=box, x_scale=widths.ravel(), ftol=1e-5)
    solved: np.ndarray = found.x.reshape(-1, 3)
    return solved


def _hold() -> dict[str, Any]:
    """One joint held at the nearest attitude of its envelope."""
    posing, rng = prepare_posing(made_up_chain.make_column(15)), np.random.default_rng(2)
    asked = rng.normal(size=(500, 3)) * 0.3
    hold_joint(posing, TIP, asked[0])
    spent = []
    for angles in asked:
        begun = time.process_time()
        hold_joint(posing, TIP, angles)
        spent.append(time.process_time() - begun)
    note = "nearest attitude of an envelope, median of 500, processor time"
    own = float(np.median(spent))
    return {"name": "a joint held", "ours_s": own, "peer": None, "peer_s": None, "ratio": None, "note": note}
