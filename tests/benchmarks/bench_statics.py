"""The study of a pose against mujoco's kinematics and gravity loads, same bodies, same run.

mujoco answers less (no reactions, ranges, margins, checks) and in compiled code on bare arrays: what is compared is
how long a user waits for the figures of a pose.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import mujoco
import numpy as np
from mujoco_oracle import make_model, pose_model
from random_skeletons import make_random_pose, make_random_skeleton
from scipy.spatial.transform import Rotation

from core_calcs.build.materials import default_build
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.kinematics import move_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.spatial.rotations import joint_rotation
from core_calcs.statics.batch_tree import make_buffers, turn_tree
from core_calcs.statics.wrenches import make_wrenches, sum_distal
from core_calcs.studies.assess import Prepared, assess, assess_prepared, prepare
from core_calcs.studies.sweep import (
    CHUNK,
    find_limbs,
    list_turning_joints,
    list_turns,
    shape_batch,
    study_chunk,
    sweep_angles,
)
from core_calcs.studies.turning import take_pose, turn_joint

PEER = "mujoco"
SITE = Site(contact_tolerance_m=1e3)
BATCH = 64


def run() -> list[dict[str, Any]]:
    """One pose, many poses, and how both grow."""
    rows = []
    for count in (50, 300, 1000, 2000):
        prepared, poses = make_balanced(count)
        skeleton = prepared.skeleton
        model = make_model(skeleton, prepared.build)
        data = pose_model(model, skeleton, poses[0])
        peer = _time(_curry(_load_by_mujoco, model, data))
        note = f"moments differ by {_compare(prepared, poses[0], model, data):.1g} of the greatest"
        rows.append(_row(f"kinematics and cuts, {count} elements", _time(_curry(_cut, prepared, poses[0])), peer, note))
        study = _time(_curry(assess_prepared, prepared, poses[0], SITE))
        rows.append(_row(f"study of a pose, {count} elements", study, peer, "all figures and checks"))
        rows += _time_turns(prepared, poses[0], study, count)
        rows += _time_batch(prepared, poses[0], model, data, 8192 if count == 300 else 1024, count)
        if count == 300:
            whole = _time(_curry(assess, skeleton, poses[0], prepared.build, SITE))
            rows.append(_row("the same, nothing prepared", whole, peer, "first study after a load"))
            many = _time(lambda p=prepared, q=poses: [assess_prepared(p, pose, SITE) for pose in q], 3)
            rows.append(
                _row(f"{BATCH} poses one by one, 300 elements", many, BATCH * peer, f"mujoco: {BATCH} times one")
            )
    return rows


def make_balanced(count: int) -> tuple[Prepared, list[Pose]]:
    """A skeleton about as deep as one with long neck and tail, and poses of it, the first in balance."""
    rng = np.random.default_rng(count)
    while True:
        skeleton = make_random_skeleton(count, rng, 8, bushy=max(4, count // 40))
        poses = [make_random_pose(skeleton, rng, 0.05) for _ in range(BATCH)]
        prepared = prepare(skeleton, default_build())
        margin = assess_prepared(prepared, poses[0], SITE).distance_margin_m
        if margin is not None and margin > 0:
            return prepared, poses


def _time_turns(prepared: Prepared, pose: Pose, study_s: float, count: int) -> list[dict[str, Any]]:
    """One joint turned, each joint in turn: medians of those that carry no foot, and of those that do."""
    posed = take_pose(prepared, pose, SITE)
    seconds: tuple[list[float], list[float]] = ([], [])
    feet = set(prepared.contacts.body.tolist())
    branches = prepared.branches
    for i, joint in enumerate(prepared.skeleton.joints, start=1):
        angles = posed.pose.angles_rad[joint.child] + 0.01
        own = branches.order[branches.start[i] : branches.end[i]]
        begun = time.perf_counter()
        posed = turn_joint(posed, joint.child, angles)
        seconds[not feet.isdisjoint(own.tolist())].append(time.perf_counter() - begun)
    names = (f"one joint turned, {count} elements", f"the same where the joint carries a foot, {count} elements")
    rows = []
    for name, times in zip(names, seconds, strict=True):
        median = float(np.median(times))
        note = f"median of {len(times)} joints; aim .3 ms for 300; peer: the whole study of the pose"
        rows.append(_row(name, median, study_s, note) | {"peer": "assess_prepared"})
    return rows


def _time_batch(
    prepared: Prepared, pose: Pose, model: mujoco.MjModel, data: mujoco.MjData, poses: int, count: int
) -> list[dict[str, Any]]:
    """Many poses at once: ours from ready turns and from angles, mujoco's one after the other from its quaternions."""
    joints, tree = list_turning_joints(prepared), shape_batch(prepared)
    limbs = find_limbs(prepared, tree)
    angles = np.random.default_rng(5).normal(size=(poses, len(joints), 3)) * 0.05
    chunk = min(poses, CHUNK)
    turns = [
        np.stack([own.copy() for own in list_turns(prepared, tree, pose, angles[at : at + chunk])])
        for at in range(0, poses, chunk)
    ]
    places = _list_places(model, prepared, dict(zip(joints, np.moveaxis(angles, 0, 1), strict=True)))
    room = make_buffers(len(tree.parents), chunk)
    forces, moments = np.empty((len(tree.parents), chunk)), np.empty((len(tree.parents), 2, chunk))

    def ours() -> list[Any]:
        found = []
        for own in turns:
            turn_tree(tree, own, room)
            found.append(study_chunk(prepared, pose, SITE, tree, limbs, room, forces, moments))
        return found

    def theirs() -> tuple[np.ndarray, np.ndarray]:
        moments, centres = np.empty((poses, model.nv)), np.empty((poses, 3))
        for i in range(poses):
            data.qpos[:] = places[i]
            _load_by_mujoco(model, data)
            moments[i], centres[i] = data.qfrc_bias, data.subtree_com[0]
        return moments, centres

    lean = _time(lambda: [turn_tree(tree, own, room) for own in turns], 3)
    peer, full = _time(theirs, 3), _time(ours, 3)
    whole = _time(lambda: sweep_angles(prepared, pose, SITE, angles), 2, 0.0)
    centres = np.concatenate([own[0] for own in ours()])
    differ = f"centres differ by {np.abs(theirs()[1] - centres).max():.1g} m"
    name = f"{poses} poses, {count} elements"
    return [
        _row(f"{name}: centre and joint moments", lean, peer, f"ready turns; {peer / lean:.1f} times as fast"),
        _row(f"{name}: and feet, margins", full, peer, f"ready turns; {peer / full:.1f} times as fast; {differ}"),
        _row(f"{name}: a sweep from angles", whole, peer, f"angles to turns too; {peer / whole:.1f} times as fast"),
    ]


def _list_places(model: mujoco.MjModel, prepared: Prepared, angles: dict[str, np.ndarray]) -> np.ndarray:
    """mujoco's quaternions of many poses."""
    places = np.empty((len(next(iter(angles.values()))), model.nq))
    for joint in prepared.skeleton.joints:
        at = model.jnt_qposadr[model.body_jntadr[model.body(joint.child).id]]
        turns = Rotation.from_matrix(joint_rotation(angles[joint.child], joint.senses))
        places[:, at : at + 4] = turns.as_quat(scalar_first=True)
    return places


def _curry(function: Callable[..., Any], *arguments: Any) -> Callable[[], Any]:
    return lambda: function(*arguments)


def _time(work: Callable[[], Any], least_runs: int = 7, budget_s: float = 0.3) -> float:
    """The least of several runs [s]."""
    work()
    best, began, runs = float("inf"), time.perf_counter(), 0
    while runs < least_runs or time.perf_counter() - began < budget_s:
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
        runs += 1
    return best


def _row(name: str, ours_s: float, peer_s: float, note: str) -> dict[str, Any]:
    return {"name": name, "ours_s": ours_s, "peer": PEER, "peer_s": peer_s, "ratio": ours_s / peer_s, "note": note}


def _load_by_mujoco(model: mujoco.MjModel, data: mujoco.MjData) -> None:
    """Places, centres of mass, and the moments of the weights: what is needed of a forward pass, no more."""
    mujoco.mj_kinematics(model, data)
    mujoco.mj_comPos(model, data)
    mujoco.mj_rne(model, data, 0, data.qfrc_bias)


def _cut(prepared: Prepared, pose: Pose) -> np.ndarray:
    """Places and weights' wrenches about the root's centre at every cut: the same answer as mujoco's."""
    motions = move_elements(prepared.skeleton, prepared.movers, pose)
    centres = (motions[:, :3, :3] @ prepared.weights.centre_m[:, :, None])[:, :, 0] + motions[:, :3, 3]
    gravity = np.zeros_like(centres)
    gravity[:, 2] = -GRAVITY * prepared.weights.mass_kg
    return sum_distal(prepared.branches.parents, make_wrenches(gravity, centres, centres[0]))


def _compare(prepared: Prepared, pose: Pose, model: mujoco.MjModel, data: mujoco.MjData) -> float:
    """Greatest difference of the moments at all joints, as a share of the greatest moment."""
    wrenches = _cut(prepared, pose)
    motions = move_elements(prepared.skeleton, prepared.movers, pose)
    root = motions[0] @ [*prepared.weights.centre_m[0], 1]
    worst, greatest = 0.0, 0.0
    for i, joint in enumerate(prepared.skeleton.joints, start=1):
        body = model.body(joint.child).id
        at = model.jnt_dofadr[model.body_jntadr[body]]
        theirs = -data.xmat[body].reshape(3, 3) @ data.qfrc_bias[at : at + 3]
        arm = root[:3] - (motions[i] @ joint.X_WJ)[:3, 3]
        ours = wrenches[i, 3:] + np.cross(arm, wrenches[i, :3])
        worst, greatest = max(worst, float(np.abs(ours - theirs).max())), max(greatest, float(np.abs(theirs).max()))
    return worst / greatest
