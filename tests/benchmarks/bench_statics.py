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
from core_calcs.statics.batch_tree import turn_tree
from core_calcs.statics.wrenches import make_wrenches, sum_distal
from core_calcs.studies.assess import Prepared, assess, assess_prepared, prepare
from core_calcs.studies.limbs import find_limbs
from core_calcs.studies.sweep import (
    choose_chunk,
    list_turning_joints,
    list_turns,
    shape_batch,
    study_chunk,
    sweep_angles,
)
from core_calcs.studies.turning import Posed, take_pose, turn_joint

PEER = "mujoco"
SITE = Site(contact_tolerance_m=1e3)
COUNTS = (50, 100, 300, 1000, 2000)
BATCH, FEWER = 8192, 2048
"""Poses in a batch; of more than 300 elements fewer, for memory's sake."""

ONE_BY_ONE = 64

Works = dict[str, Callable[[], Any]]


def run() -> list[dict[str, Any]]:
    """One pose, one joint turned, many poses, and how each grows."""
    cases = {count: make_balanced(count) for count in COUNTS}
    rows: list[dict[str, Any]] = []
    for count, (prepared, poses) in cases.items():
        rows += _bench_pose(prepared, poses, count)
        rows += _bench_turns(prepared, poses[0], count) + _bench_batch(prepared, poses[0], count)
    studies: Works = {str(n): _curry(assess_prepared, own, poses[0], SITE) for n, (own, poses) in cases.items()}
    turns: Works = {str(n): _make_turn(own, poses[0]) for n, (own, poses) in cases.items()}
    batches = {str(n): row["ours_s"] / _count_poses(n) for n in COUNTS for row in rows if row["name"] == _name_batch(n)}
    growths = {
        "study of a pose, processor's time": _time_in_turn(studies, 25, time.process_time),
        "one joint turned, processor's time": _time_in_turn(turns, 100, time.process_time),
        "a pose of a batch: centre and joint moments": batches,
    }
    return rows + [_describe_growth(name, least) for name, least in growths.items()]


def make_balanced(count: int) -> tuple[Prepared, list[Pose]]:
    """A skeleton about as deep as one with long neck and tail, and poses of it, the first in balance."""
    rng = np.random.default_rng(count)
    while True:
        skeleton = make_random_skeleton(count, rng, 8, bushy=max(4, count // 40))
        poses = [make_random_pose(skeleton, rng, 0.05) for _ in range(ONE_BY_ONE)]
        prepared = prepare(skeleton, default_build())
        margin = assess_prepared(prepared, poses[0], SITE).distance_margin_m
        if margin is not None and margin > 0:
            return prepared, poses


def _bench_pose(prepared: Prepared, poses: list[Pose], count: int) -> list[dict[str, Any]]:
    skeleton, pose = prepared.skeleton, poses[0]
    model = make_model(skeleton, prepared.build)
    data = pose_model(model, skeleton, pose)
    works: Works = {
        "mujoco": _curry(_load_by_mujoco, model, data),
        "cut": _curry(_cut, prepared, pose),
        "study": _curry(assess_prepared, prepared, pose, SITE),
    }
    if count == 300:
        works["first"] = _curry(assess, skeleton, pose, prepared.build, SITE)
        works["many"] = lambda: [assess_prepared(prepared, own, SITE) for own in poses]
    least = _time_in_turn(works, 10)
    peer = least["mujoco"]
    differ = f"moments differ by {_compare(prepared, pose, model, data):.1g} of the greatest"
    rows = [
        _row(f"kinematics and cuts, {count} elements", least["cut"], peer, differ),
        _row(f"study of a pose, {count} elements", least["study"], peer, "all figures and checks"),
    ]
    if count == 300:
        rows.append(_row("the same, nothing prepared", least["first"], peer, "first study after a load"))
        many = f"{ONE_BY_ONE} poses one by one, 300 elements"
        rows.append(_row(many, least["many"], ONE_BY_ONE * peer, f"mujoco: {ONE_BY_ONE} times one"))
    return rows


def _bench_turns(prepared: Prepared, pose: Pose, count: int) -> list[dict[str, Any]]:
    """Each joint turned to and fro: the median over the joints, of those that carry no foot and of those that do."""
    posed = take_pose(prepared, pose, SITE)
    feet, branches = set(prepared.contacts.body.tolist()), prepared.branches
    seconds: tuple[list[float], list[float]] = ([], [])
    for i, joint in enumerate(prepared.skeleton.joints, start=1):
        own = branches.order[branches.start[i] : branches.end[i]]
        spent = _time_in_turn({"turn": _make_turn(prepared, pose, joint.child, posed)}, 5)["turn"]
        seconds[not feet.isdisjoint(own.tolist())].append(spent)
    study = _time_in_turn({"study": _curry(assess_prepared, prepared, pose, SITE)}, 5)["study"]
    names = (f"one joint turned, {count} elements", f"the same where the joint carries a foot, {count} elements")
    rows = []
    for name, times in zip(names, seconds, strict=True):
        kept = sum(own <= 3e-4 for own in times)
        note = (
            f"median joint; {kept} of {len(times)} within .3 ms, slowest {1e3 * max(times):.2f}; peer: the whole study"
        )
        rows.append(_row(name, float(np.median(times)), study, note) | {"peer": "assess_prepared"})
    return rows


def _make_turn(
    prepared: Prepared, pose: Pose, child: str | None = None, posed: Posed | None = None
) -> Callable[[], Any]:
    """A joint turned by a little, without its name that in the middle of the skeleton."""
    posed = posed or take_pose(prepared, pose, SITE)
    child = child or prepared.skeleton.joints[len(prepared.skeleton.joints) // 2].child
    return _curry(turn_joint, posed, child, pose.angles_rad[child] + 0.01)


def _bench_batch(prepared: Prepared, pose: Pose, count: int) -> list[dict[str, Any]]:
    """Many poses at once: ours from ready turns and from angles, mujoco's one after the other from its quaternions."""
    poses = _count_poses(count)
    model = make_model(prepared.skeleton, prepared.build)
    data = pose_model(model, prepared.skeleton, pose)
    joints, tree = list_turning_joints(prepared), shape_batch(prepared)
    limbs, bodies = find_limbs(prepared, tree), len(tree.parents)
    size = choose_chunk(bodies)
    angles = np.random.default_rng(5).normal(size=(poses, len(joints), 3)) * 0.05
    parts = [angles[at : at + size] for at in range(0, poses, size)]
    turns = [np.stack([turn.copy() for turn in list_turns(prepared, tree, pose, own)]) for own in parts]
    places = _list_places(model, prepared, dict(zip(joints, np.moveaxis(angles, 0, 1), strict=True)))
    attitudes, moments = np.empty((bodies, 2, size), complex), np.empty((bodies, size), complex)
    forces = np.empty((bodies, size))

    def with_feet() -> list[Any]:
        found = []
        for own in turns:
            chunk = turn_tree(tree, own, attitudes, moments)
            found.append(study_chunk(prepared, pose, SITE, tree, limbs, chunk, forces))
        return found

    def theirs() -> tuple[np.ndarray, np.ndarray]:
        moments, centres = np.empty((poses, model.nv)), np.empty((poses, 3))
        for i in range(poses):
            data.qpos[:] = places[i]
            _load_by_mujoco(model, data)
            moments[i], centres[i] = data.qfrc_bias, data.subtree_com[0]
        return moments, centres

    works: Works = {
        "mujoco": theirs,
        "lean": lambda: [turn_tree(tree, own, attitudes, moments) for own in turns],
        "with feet": with_feet,
        "from angles": lambda: sweep_angles(prepared, pose, SITE, angles),
    }
    least = _time_in_turn(works, 7 if count <= 300 else 3)
    peer = least.pop("mujoco")
    centres = np.concatenate([own[0] for own in with_feet()])
    differ = f"centres differ by {np.abs(theirs()[1] - centres).max():.1g} m"
    lean, full, whole = (f"{peer / own:.1f} times as fast" for own in least.values())
    name, aim = _name_batch(count), "; aim 4 times" if count == 300 else ""
    return [
        _row(name, least["lean"], peer, f"float64, ready turns; {lean}{aim}"),
        _row("the same with feet by springs, margins", least["with feet"], peer, f"ready turns; {full}; {differ}"),
        _row("the same from angles", least["from angles"], peer, f"{whole}; mujoco from ready quaternions"),
    ]


def _count_poses(count: int) -> int:
    return BATCH if count <= 300 else FEWER


def _name_batch(count: int) -> str:
    return f"{_count_poses(count)} poses, {count} elements: centre and joint moments"


def _describe_growth(name: str, least: dict[str, float]) -> dict[str, Any]:
    """Times over the number of elements, and how far they are off a straight line through them."""
    counts, times = np.array([int(own) for own in least]), np.array(list(least.values()))
    # Each time counts alike, the small ones too.
    rows = np.column_stack([np.ones(len(counts)), counts]) / times[:, None]
    start, each = np.linalg.lstsq(rows, np.ones(len(counts)), rcond=None)[0]
    off = np.abs((start + each * counts) / times - 1).max()
    listed = ", ".join(f"{n}: {1e6 * own:.3g}" for n, own in zip(counts, times, strict=True))
    line = f"{1e6 * start:.3g} + {1e6 * each:.3g} n, off by {off:.0%} at most"
    note = f"µs by elements: {listed}; line {line}"
    return _row(f"growth, {name}", float(times[-1]), None, note)


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


def _time_in_turn(works: Works, rounds: int, clock: Callable[[], float] = time.perf_counter) -> dict[str, float]:
    """The least time of each of several works [s], done by turns: what else the machine has to do hits all alike."""
    least = dict.fromkeys(works, float("inf"))
    for _ in range(rounds + 1):
        for name, work in works.items():
            start = clock()
            work()
            least[name] = min(least[name], clock() - start)
    return least


def _row(name: str, ours_s: float, peer_s: float | None, note: str) -> dict[str, Any]:
    peer, ratio = (None, None) if peer_s is None else (PEER, ours_s / peer_s)
    return {"name": name, "ours_s": ours_s, "peer": peer, "peer_s": peer_s, "ratio": ratio, "note": note}


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
