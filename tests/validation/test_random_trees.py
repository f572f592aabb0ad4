"""Two hundred random trees of bodies at rest against mujoco, and how their figures turn, move, grow and mirror.

mujoco knows nothing of feet: reactions are given to it as forces from outside. At every cut both wrenches are compared
as a share of the greatest force, or moment, in that tree.
"""

from __future__ import annotations

import mujoco
import numpy as np
import pytest

from core_calcs.build.materials import default_build
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.kinematics import move_elements
from core_calcs.statics.cuts import PointForces, make_weights, sum_on_bodies
from core_calcs.statics.wrenches import find_preorder, move_wrenches, sum_distal, sum_proximal
from core_calcs.studies.assess import assess_prepared, prepare
from tests.mujoco_oracle import make_model, pose_model, read_inertia, read_wrench, rest_model
from tests.random_skeletons import make_random_pose, make_random_skeleton, make_rotation, scale_skeleton

PEER = f"mujoco {mujoco.__version__}: mj_rnePostConstraint, mj_crb"
TREES = 200
LARGEST = 300
ANYWHERE = Site(contact_tolerance_m=1e3)
"""A ground that every foot stands on, wherever it is."""


def make_tree(seed):
    """Skeleton, pose and given reactions: every joint a ball joint, one to eight contacts on bodies anywhere."""
    rng = np.random.default_rng(seed)
    # The largest count is among them, and the smallest.
    count = int(np.geomspace(3, LARGEST, TREES).round()[seed])
    feet = int(rng.integers(1, min(count, 8) + 1))
    skeleton = make_random_skeleton(count, rng, feet, bushy=int(rng.integers(1, 41)))
    pose = make_random_pose(skeleton, rng)
    return skeleton, pose, rng


def compare_wrenches(ours, theirs):
    """Greatest differences of force and moment (n, 6), as shares of the greatest of each."""
    difference = np.abs(ours - theirs)
    greatest = [np.linalg.norm(theirs[:, :3], axis=1).max(), np.linalg.norm(theirs[:, 3:], axis=1).max()]
    return difference[:, :3].max() / greatest[0], difference[:, 3:].max() / greatest[1]


def find_given_cuts(prepared, pose, given):
    """(n - 1, 6) wrenches at all joints under weights and given forces, from either side of the cuts."""
    motions = move_elements(prepared.skeleton, prepared.movers, pose)
    bodies, parents = prepared.bodies, prepared.skeleton.parents
    centres = (motions[:, :3, :3] @ bodies.centre_m[:, :, None])[:, :, 0] + motions[:, :3, 3]
    own = sum_on_bodies(len(parents), make_weights(bodies.mass_kg, centres), centres[0])
    own += sum_on_bodies(len(parents), given, centres[0])
    joints = (motions[parents[1:]] @ prepared.X_WJ[1:])[:, :3, 3]
    distal = sum_distal(parents, own)
    # The root is held by mujoco's world: what the rest of the tree takes is found without it.
    rest = -(sum_proximal(*find_preorder(parents), own) - distal[0])
    return move_wrenches(distal[1:], centres[0], joints), move_wrenches(rest[1:], centres[0], joints)


def test_trees_with_given_reactions(check_value):
    differences = []
    for seed in range(TREES):
        skeleton, pose, rng = make_tree(seed)
        prepared = prepare(skeleton, default_build())
        found = assess_prepared(prepared, pose, ANYWHERE)
        model = make_model(skeleton, prepared.build)
        data = pose_model(model, skeleton, pose)
        points = np.array([foot.points_m[0] for foot in found.feet])
        holders = [foot.contacts[0].element for foot in skeleton.feet]
        forces = rng.normal(size=points.shape) * found.mass_kg * GRAVITY / len(points)
        given = PointForces(forces, points, np.array([skeleton.index(name) for name in holders]))
        rest_model(model, data, holders, forces, points)
        theirs = np.array([read_wrench(model, data, joint.child) for joint in skeleton.joints])
        ours, other_side = find_given_cuts(prepared, pose, given)
        size = np.ptp(data.xipos[1:], axis=0).max()
        inertia = read_inertia(data)
        differences.append(
            [
                *compare_wrenches(ours, theirs),
                *compare_wrenches(other_side, theirs),
                np.abs(found.centre_m - data.subtree_com[1]).max() / size,
                np.abs(found.inertia_kg_m2 - inertia).max() / np.abs(inertia).max(),
            ]
        )
    worst = np.max(differences, axis=0)
    names = ("force", "moment", "force from the other side", "moment from the other side", "centre", "inertia")
    for name, difference in zip(names, worst, strict=True):
        check_value(f"{TREES} random trees, given reactions: {name}", PEER, "D", 0.0, float(difference), abs=1e-9)


def test_trees_on_their_feet(check_value):
    """What the study finds under the feet of those that balance is given to mujoco: the same at every joint."""
    differences = []
    for seed in range(TREES):
        skeleton, pose, _ = make_tree(seed)
        prepared = prepare(skeleton, default_build())
        found = assess_prepared(prepared, pose, ANYWHERE)
        if found.residual_N is None:
            continue
        model = make_model(skeleton, prepared.build)
        data = pose_model(model, skeleton, pose)
        holders = [foot.contacts[0].element for foot in skeleton.feet]
        points = np.array([foot.points_m[0] for foot in found.feet])
        rest_model(model, data, holders, np.array([[0, 0, foot.force_N] for foot in found.feet]), points)
        theirs = np.array([read_wrench(model, data, joint.child) for joint in found.joints])
        ours = np.array([[*joint.force_N, *joint.moment_Nm] for joint in found.joints])
        differences.append(compare_wrenches(ours, theirs))
    assert len(differences) >= 20
    worst = np.max(differences, axis=0)
    for name, difference in zip(("force", "moment"), worst, strict=True):
        check_value(f"random trees on their own feet: {name}", PEER, "D", 0.0, float(difference), abs=1e-9)


MOVES = {
    "turned": lambda rng: (make_rotation(rng), np.zeros(3), 1.0),
    "moved": lambda rng: (np.eye(3), rng.normal(size=3) * 1e3, 1.0),
    "scaled": lambda rng: (np.eye(3), np.zeros(3), float(rng.uniform(0.05, 20))),
    "mirrored": lambda rng: (np.diag([1.0, -1.0, 1.0]) @ make_rotation(rng), np.zeros(3), 1.0),
}


@pytest.mark.parametrize("move", MOVES)
def test_cuts_go_with_the_whole(check_value, move):
    """Forces and points moved by x → s (Q x + p), forces grown with s³: F with s³ Q, M with s⁴ det(Q) Q."""
    worst = np.zeros(2)
    for seed in range(50):
        rng = np.random.default_rng(1000 + seed)
        Q, shift, scale = MOVES[move](rng)
        count = int(rng.integers(2, 120))
        parents = np.array([-1, *(int(rng.integers(max(0, i - 5), i)) for i in range(1, count))])
        forces, points, joints = rng.normal(size=(3, count, 3))
        body = rng.integers(0, count, size=count)

        def cut(f, p, j, parents=parents, body=body, count=count):
            own = sum_on_bodies(count, PointForces(f, p, body), p[0])
            return move_wrenches(sum_distal(parents, own), p[0], j)

        before = cut(forces, points, joints)
        placed = [scale * (x @ Q.T + shift) for x in (points, joints)]
        after = cut(scale**3 * forces @ Q.T, *placed)
        expected = np.empty_like(before)
        expected[:, :3] = scale**3 * before[:, :3] @ Q.T
        expected[:, 3:] = scale**4 * np.linalg.det(Q) * before[:, 3:] @ Q.T
        worst = np.maximum(worst, compare_wrenches(after, expected))
    source = "closed form: a wrench is a vector and a pseudovector"
    for name, difference in zip(("forces", "moments"), worst, strict=True):
        check_value(f"50 random trees {move}: {name} at the cuts", source, "D", 0.0, float(difference), abs=1e-9)


def test_masses_grow_with_the_scale(check_value):
    """Mass with s³, moments at the joints with s⁴, inertia with s⁵: through the whole study."""
    worst = np.zeros(4)
    for seed in range(0, TREES, 10):
        skeleton, pose, rng = make_tree(seed)
        s = float(rng.uniform(0.1, 10))
        ours = assess_prepared(prepare(skeleton, default_build()), pose, ANYWHERE)
        large = assess_prepared(prepare(scale_skeleton(skeleton, s), default_build()), pose, ANYWHERE)
        moments = [
            np.array([j.moment_Nm for j in f.joints if j.moment_Nm is not None] + [(0, 0, 0)]) for f in (ours, large)
        ]
        pairs = (
            (large.mass_kg, ours.mass_kg * s**3),
            (large.centre_m, ours.centre_m * s),
            (large.inertia_kg_m2, ours.inertia_kg_m2 * s**5),
            (moments[1], moments[0] * s**4),
        )
        for k, (got, expected) in enumerate(pairs):
            expected = np.asarray(expected)
            worst[k] = max(worst[k], np.abs(got - expected).max() / (np.abs(expected).max() or 1.0))
    names = ("mass s³", "centre s", "inertia s⁵", "joint moments s⁴")
    for name, difference in zip(names, worst, strict=True):
        check_value(f"20 random trees scaled by s: {name}", "closed form", "D", 0.0, float(difference), abs=1e-9)
