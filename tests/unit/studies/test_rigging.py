"""Rig plans and the reading of motions, without Blender."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.skeleton.element import Element, Solid, Source
from core_calcs.skeleton.joint import AxisLimit, Joint, Stop
from core_calcs.skeleton.kinematics import joint_motions
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Skeleton, build_skeleton
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.rotations import joint_rotation
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.joints_by_hand import fix_document_joint, set_document_joint, square_axes
from core_calcs.studies.rigging import SHORTEST_SHARE, _nearest_rotations, bone_turns, plan_rig, read_pose


def make_element(name: str, x: float) -> Element:
    half = np.array([0.05, 0.02, 0.02])
    solid = Solid(1e-4, 0.0, np.zeros(3), np.eye(3) * 1e-7, -half, half, 12, ("closed",))
    return Element(
        name, "caudal", None, "middle", "sculpted", Source(f"{name}.stl", None, 1.0, "0" * 64), solid,
        make_transform(np.eye(3), (x, 0, 0)),
    )  # fmt: skip


def make_joint(i: int, kind: str, senses: tuple[int, int, int], rng: np.random.Generator) -> Joint:
    frame = joint_rotation(rng.uniform(-1.2, 1.2, 3))
    limits = tuple(AxisLimit(Stop(-0.3, "by hand", None), Stop(0.5, "by hand", None)) for _ in range(3))
    return Joint(
        f"e{i - 1}", f"e{i}", kind, make_transform(frame, (0.1 * i - 0.05, 0, 0)), senses,  # type: ignore[arg-type]
        limits if kind != "fixed" else None, (), "by hand", "made up", None,  # type: ignore[arg-type]
    )  # fmt: skip


@pytest.fixture
def chain() -> Skeleton:
    """Six elements in a row; the joint of e3 is fixed."""
    rng = np.random.default_rng(0)
    senses = [(1, 1, 1), (-1, 1, 1), (1, 1, 1), (1, -1, 1), (-1, -1, -1)]
    joints = tuple(make_joint(i, "fixed" if i == 3 else "by hand", senses[i - 1], rng) for i in range(1, 6))
    return build_skeleton("chain", tuple(make_element(f"e{i}", 0.1 * i) for i in range(6)), joints)


def test_one_bone_for_the_root_and_each_joint_that_moves(chain: Skeleton) -> None:
    plan = plan_rig(chain)
    assert [bone.element for bone in plan.bones] == ["e0", "e1", "e2", "e4", "e5"]
    assert [bone.parent for bone in plan.bones] == [-1, 0, 1, 2, 3]
    assert plan.carriers.tolist() == [0, 1, 2, 2, 3, 4]
    assert plan.size_m == pytest.approx(np.linalg.norm([0.6, 0.04, 0.04]))
    assert min(bone.length_m for bone in plan.bones) >= SHORTEST_SHARE * plan.size_m


def test_a_sense_turns_the_range_about(chain: Skeleton) -> None:
    bones = {bone.element: bone for bone in plan_rig(chain).bones}
    assert bones["e1"].limits_rad.tolist() == [[-0.3, 0.5]] * 3
    assert bones["e2"].limits_rad.tolist() == [[-0.5, 0.3], [-0.3, 0.5], [-0.3, 0.5]]
    assert bones["e5"].limits_rad.tolist() == [[-0.5, 0.3]] * 3
    assert bones["e0"].limits_rad is None


def test_a_pose_comes_back_from_its_motions(chain: Skeleton) -> None:
    plan, rng = plan_rig(chain), np.random.default_rng(1)
    X_WN = make_transform(joint_rotation((0.3, -0.8, 2.0)), (1, 2, 3))
    pose = Pose("p", {name: rng.uniform(-1, 1, 3) for name in ("e1", "e2", "e4", "e5")}, X_WN)
    of_bones = [chain.index(bone.element) for bone in plan.bones]
    found = read_pose(chain, plan, joint_motions(chain, pose)[of_bones], "again")
    assert found.name == "again"
    for child, angles in pose.angles_rad.items():
        np.testing.assert_allclose(found.angles_rad[child], angles, rtol=0, atol=1e-12)
    np.testing.assert_allclose(found.X_WN, X_WN, rtol=0, atol=1e-12)


def test_turns_are_the_joints_rotations(chain: Skeleton) -> None:
    turns = bone_turns(chain, plan_rig(chain), Pose("p", {"e2": np.array([0.2, 0.0, 0.0])}))
    np.testing.assert_allclose(turns[2], [[1, 0, 0], [0, np.cos(0.2), np.sin(0.2)], [0, -np.sin(0.2), np.cos(0.2)]])
    np.testing.assert_array_equal(turns[[0, 1, 3, 4]], np.tile(np.eye(3), (4, 1, 1)))


def test_neutral_is_without_angles(chain: Skeleton) -> None:
    plan = plan_rig(chain)
    noise = make_transform(joint_rotation((1e-6, 0, 0)), (0, 0, 0))
    assert read_pose(chain, plan, np.tile(noise, (5, 1, 1)), "n").angles_rad == {}


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda D: D[3:, :3, 3].__iadd__(0.01), "e4.*out of its joint"),
        (lambda D: D[2, :3, :3].__imul__(1.01), "e2.*scaled or sheared"),
        (lambda D: D[2, 0, :3].__imul__(-1), "scaled or sheared|mirrored"),
        (lambda D: D[1, 0].__imul__(np.nan), "not a number"),
    ],
)
def test_motions_that_are_no_pose_are_refused(chain: Skeleton, change: object, message: str) -> None:
    motions = np.tile(np.eye(4), (5, 1, 1))
    change(motions)  # type: ignore[operator]
    with pytest.raises(SkeletonError, match=message):
        read_pose(chain, plan_rig(chain), motions, "p")


def test_the_long_axis_gives_way_to_the_flexion_axis() -> None:
    axes = square_axes("e1", (0, 2, 0), (1, 1, 0))
    np.testing.assert_allclose(axes, [[0, 1, 0], [1, 0, 0], [0, 0, -1]], atol=1e-15)


@pytest.mark.parametrize("axes", [((0, 0, 0), (1, 0, 0)), ((1, 0, 0), (-3, 0, 0)), ((1, 0, np.nan), (0, 1, 0))])
def test_axes_that_are_none_are_refused(axes: tuple[tuple[float, ...], tuple[float, ...]]) -> None:
    with pytest.raises(SkeletonError, match="joint of e1"):
        square_axes("e1", *axes)


def test_saved_poses_follow_a_joint_set_by_hand(chain: Skeleton) -> None:
    from core_calcs.build.materials import default_build
    from core_calcs.document.document import SkeletonDocument
    from core_calcs.site.site import Site

    pose = Pose("p", {"e1": np.array([0.1, 0, 0]), "e2": np.array([0, 0.2, 0])})
    document = SkeletonDocument(chain, (pose,), default_build(), Site(), "scans")
    moved = set_document_joint(document, "e2", (0, 0, 0.1), np.eye(3), [(-0.1, 0.1)] * 3, "seen so")
    assert set(moved.poses[0].angles_rad) == {"e1", "e2"}
    assert moved.skeleton.joint_of("e2").X_WJ[2, 3] == 0.1
    fixed = fix_document_joint(document, "e2", "glued")
    assert set(fixed.poses[0].angles_rad) == {"e1"}
    assert not fixed.skeleton.joint_of("e2").moves
    assert set(replace(document).poses[0].angles_rad) == {"e1", "e2"}


def test_the_nearest_rotation_is_the_polar_factor() -> None:
    """Against the factor from singular values, of matrices as far off as a rig's may be."""
    rng = np.random.default_rng(3)
    exact = joint_rotation(rng.uniform(-3, 3, (200, 3)))
    off = exact @ (np.eye(3) + rng.uniform(-1e-4, 1e-4, (200, 3, 3)))
    U, _, Vt = np.linalg.svd(off)
    np.testing.assert_allclose(_nearest_rotations(off), U @ Vt, atol=1e-15 * 4)
