"""The same skeleton as a mujoco model: places, masses and loads at rest calculated independently (a test oracle)."""

from __future__ import annotations

import mujoco
import numpy as np

from core_calcs.build.build import Build
from core_calcs.site.site import GRAVITY
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Skeleton
from core_calcs.spatial.rotations import joint_rotation


def _text(values: np.ndarray) -> str:
    return " ".join(repr(float(v)) for v in np.ravel(values))


def _quaternion(R: np.ndarray) -> np.ndarray:
    """(w, x, y, z) of a rotation by mujoco's own conversion."""
    q = np.empty(4)
    mujoco.mju_mat2Quat(q, np.ascontiguousarray(R).ravel())
    return q


def make_model(skeleton: Skeleton, build: Build) -> mujoco.MjModel:
    """Bodies stand in their joint frames, the root in the world of the neutral articulation; ball joints throughout."""
    children: dict[str, list[int]] = {element.name: [] for element in skeleton.elements}
    for i, joint in enumerate(skeleton.joints, start=1):
        children[joint.parent].append(i)

    def write_body(i: int, X_WP: np.ndarray) -> str:
        element = skeleton.elements[i]
        X_WJ = skeleton.joints[i - 1].X_WJ if i else np.eye(4)
        X_PJ = np.linalg.inv(X_WP) @ X_WJ
        centre = np.linalg.inv(X_WJ) @ element.X_WE @ [*element.solid.centre_m, 1]
        mass = element.solid.volume_m3 * build.material.density_kg_m3
        R_JE = X_WJ[:3, :3].T @ element.X_WE[:3, :3]
        inertia = build.material.density_kg_m3 * R_JE @ element.solid.inertia_m5 @ R_JE.T
        full = _text(inertia[(0, 1, 2, 0, 0, 1), (0, 1, 2, 1, 2, 2)])
        inertial = f'<inertial pos="{_text(centre[:3])}" mass="{mass!r}" fullinertia="{full}"/>'
        joint = '<joint type="ball"/>' if i else ""
        inner = "".join(write_body(c, X_WJ) for c in children[element.name])
        quat = _text(_quaternion(X_PJ[:3, :3]))
        return f'<body name="{element.name}" pos="{_text(X_PJ[:3, 3])}" quat="{quat}">{joint}{inertial}{inner}</body>'

    xml = (
        f'<mujoco><compiler angle="radian" boundmass="0" boundinertia="0"/><option gravity="0 0 {-GRAVITY!r}"/>'
        f"<worldbody>{write_body(0, np.eye(4))}</worldbody></mujoco>"
    )
    return mujoco.MjModel.from_xml_string(xml)


def pose_model(model: mujoco.MjModel, skeleton: Skeleton, pose: Pose) -> mujoco.MjData:
    """The model at rest in a pose whose whole is not moved; forward dynamics done."""
    data = mujoco.MjData(model)
    for joint in skeleton.joints:
        i = mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_BODY, joint.child)
        at = model.jnt_qposadr[model.body_jntadr[i]]
        R = joint_rotation(pose.angles_rad.get(joint.child, np.zeros(3)), joint.senses)
        data.qpos[at : at + 4] = _quaternion(R)
    mujoco.mj_forward(model, data)
    return data


def read_moment(model: mujoco.MjModel, data: mujoco.MjData, child: str) -> np.ndarray:
    """Moment (3,) of the distal part's weight at the child's joint, world axes."""
    i = mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_BODY, child)
    at = model.jnt_dofadr[model.body_jntadr[i]]
    # The bias force is what holds the child up, in its own axes.
    return -data.xmat[i].reshape(3, 3) @ data.qfrc_bias[at : at + 3]


def rest_model(
    model: mujoco.MjModel, data: mujoco.MjData, children: list[str], forces_N: np.ndarray, points_m: np.ndarray
) -> None:
    """Hold the model at rest under its weight and forces (a, 3) at world points (a, 3) on the bodies named."""
    data.qacc[:] = 0
    data.xfrc_applied[:] = 0
    for child, force, point in zip(children, forces_N, points_m, strict=True):
        i = model.body(child).id
        data.xfrc_applied[i, :3] += force
        data.xfrc_applied[i, 3:] += np.cross(point - data.xipos[i], force)
    mujoco.mj_rnePostConstraint(model, data)


def read_wrench(model: mujoco.MjModel, data: mujoco.MjData, child: str) -> np.ndarray:
    """(6,) force and moment of the distal on the proximal part at the child's joint, world axes, of a resting model."""
    i = model.body(child).id
    # What the parent does to the child: moment, then force, about the centre of mass of the whole.
    moment, force = -data.cfrc_int[i, :3], -data.cfrc_int[i, 3:]
    arm = data.subtree_com[model.body_rootid[i]] - data.xpos[i]
    return np.concatenate([force, moment + np.cross(arm, force)])


def read_inertia(data: mujoco.MjData) -> np.ndarray:
    """(3, 3) inertia of the whole about its centre of mass, world axes: the composite of the first body."""
    xx, yy, zz, xy, xz, yz = data.crb[1, :6]
    return np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]])
