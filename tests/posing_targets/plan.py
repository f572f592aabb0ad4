"""A plan: the operator calls that pose the animal from neutral, their arguments as one vector, and what these move.

The vector: offset [m] and turn [rad, Euler XYZ] of the whole; then of every run of joints the share of its own range
that each of its joints takes, flexion and, where it has it, lateral bending. Axial turns stay out: from afar they are
hardly seen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from core_calcs.posing.attitudes import hold_attitude
from core_calcs.posing.bounds import lie_within
from core_calcs.posing.linkage import Linkage, find_axes, move_linkage
from core_calcs.skeleton.pose import Pose
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.held_turn import turn_joint
from core_calcs.studies.posing import Posing, bend_chain, take_part

RUNS = {"trunk": 8, "neck": 6, "tail": 12}
"""Into how many runs of joints each chain is cut; the skull's joint is one of its own."""
LIMBS = {"leg": ("femur", "tibia", "astragalus"), "arm": ("humerus", "ulna")}
BALLS = ("femur", "humerus")
"""What of a limb goes to the side as well."""
WHOLE, SIDEWAYS = 6, np.array([1, 3, 5])
"""So many arguments of the whole; which of them take it out of the plane of symmetry."""
FARTHEST = 0.5
"""The whole is moved and turned by no more than this along and about each axis [m, rad]."""


@dataclass(frozen=True)
class Call:
    """One operator call: which, and with what it is given, as `bpy.ops.counterpoise` takes it in a scene in metres."""

    operator: str
    given: Mapping[str, Any]


@dataclass(frozen=True)
class Run:
    """Joints that one call bends, by their children. chain : whose part they are; empty of a joint turned by itself."""

    chain: str
    children: tuple[str, ...]
    axes: int


@dataclass(frozen=True, eq=False)
class Plan:
    """Which runs are bent, in the order of the calls; parts : by name (trunk, neck, ..., leg left) its runs."""

    posing: Posing
    runs: tuple[Run, ...]
    parts: Mapping[str, tuple[int, ...]]

    @cached_property
    def starts(self) -> np.ndarray:
        """(runs + 1,) where in the vector each run's arguments begin."""
        return np.cumsum([WHOLE, *(run.axes for run in self.runs)])

    @property
    def size(self) -> int:
        """Of the vector."""
        return int(self.starts[-1])

    @cached_property
    def ends(self) -> np.ndarray:
        """(size,) the greatest of each argument either way."""
        return np.r_[np.full(WHOLE, FARTHEST), np.ones(self.size - WHOLE)]

    def list_arguments(self, *parts: str) -> np.ndarray:
        """Places in the vector of all that parts turn by; "sideways" is what takes the whole out of its plane."""
        runs = [run for part in parts if part != "sideways" for run in self.parts[part]]
        places = [np.arange(self.starts[run], self.starts[run + 1]) for run in runs]
        return np.concatenate([SIDEWAYS if "sideways" in parts else SIDEWAYS[:0], *places])

    @cached_property
    def linkage(self) -> Linkage:
        """Of all that moves."""
        movers, k = self.posing.movers, len(self.posing.movers.parents)
        above = np.eye(k, dtype=bool)
        for mover in range(1, k):
            above[mover] |= above[movers.parents[mover]]
        senses = movers.senses.astype(float)
        return Linkage(movers.elements - 1, movers.parents.tolist(), movers.X_WJ, movers.X_JW, senses, {}, above)

    @cached_property
    def turns(self) -> np.ndarray:
        """(m, 3) every single turn: row of its joint in the skeleton, axis, place of its argument in the vector."""
        rows = [
            (self.posing.rows[child], axis, start + axis)
            for run, start in zip(self.runs, self.starts.tolist(), strict=False)
            for axis in range(run.axes)
            for child in run.children
        ]
        return np.array(rows)

    @cached_property
    def mover_of(self) -> np.ndarray:
        """(joints,) which mover each joint of the skeleton turns; -1 of one that is fixed."""
        found = np.full(len(self.posing.skeleton.joints), -1)
        found[self.linkage.joints[1:]] = np.arange(1, len(self.linkage.joints))
        return found

    def find_ranges(self, x: np.ndarray) -> np.ndarray:
        """(m,) of every single turn the range [rad] on the side it goes to."""
        row, axis, place = self.turns.T
        bounds = self.posing.bounds
        return np.where(x[place] > 0, bounds.high[row, axis], -bounds.low[row, axis])

    def find_angles(self, x: np.ndarray) -> np.ndarray:
        """(joints, 3) the angles [rad], each joint held inside its range."""
        row, axis, place = self.turns.T
        angles = np.zeros((len(self.posing.skeleton.joints), 3))
        angles[row, axis] = self.find_ranges(x) * x[place]
        own = np.unique(row)
        for joint in own[~lie_within(self.posing.bounds.take(own), angles[own])].tolist():
            angles[joint] = hold_attitude(self.posing.skeleton.joints[joint], angles[joint]).angles_rad
        return angles

    def move(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(k, 3) angles of the movers' joints, (k, 4, 4) their motions from neutral."""
        angles = np.zeros((len(self.linkage.parents), 3))
        angles[1:] = self.find_angles(x)[self.linkage.joints[1:]]
        X = place_whole(self.posing, np.eye(4), x[:3], x[3:6])
        return angles, move_linkage(self.linkage, angles, X)

    def find_twists(self, x: np.ndarray, angles: np.ndarray, motions: np.ndarray) -> np.ndarray:
        """(k, size, 6) how each mover turns (ω) and the world's origin goes with it (v) as each argument grows.

        As if no joint were held by its range.
        """
        row, axis, place = self.turns.T
        axes, centres = find_axes(self.linkage, angles, motions)
        mover = self.mover_of[row]
        ways = axes[mover, axis] * self.find_ranges(x)[:, None]
        twists = np.zeros((len(angles), self.size, 6))
        single = np.concatenate([ways, np.cross(centres[mover], ways)], axis=1)
        for at, own, twist in zip(mover.tolist(), place.tolist(), single, strict=True):
            twists[self.linkage.above[:, at], own] += twist
        twists[:, :3, 3:] = np.eye(3)
        about_z, about_y = turn_by((0.0, 0.0, x[5])), turn_by((0.0, x[4], x[5]))
        ways = np.stack([about_y[:, 0], about_z[:, 1], [0.0, 0.0, 1.0]])
        pivot = self.posing.skeleton.root.solid.centre_m + x[:3]
        twists[:, 3:6] = np.concatenate([ways, np.cross(pivot, ways)], axis=1)
        return twists

    def list_calls(self, x: np.ndarray) -> list[Call]:
        """The calls with these arguments."""
        calls = [Call("move_body", {"offset": x[:3].tolist(), "turn": x[3:6].tolist(), "hold_feet": False})]
        place = self.turns[:, 2]
        asked = self.find_ranges(x) * x[place]
        for run, start in zip(self.runs, self.starts.tolist(), strict=False):
            angles = {
                name: float(asked[place == start + i].sum())
                for i, name in enumerate(("flexion", "lateral")[: run.axes])
            }
            if run.chain:
                part = {"chain": run.chain, "first": run.children[0], "last": run.children[-1]}
                calls.append(Call("bend_chain", part | angles))
            else:
                calls.append(Call("turn_joint", {"element": run.children[0]} | angles))
        return calls


def make_plan(posing: Posing, counts: Mapping[str, int] = RUNS) -> Plan:
    """The whole, every chain in runs, skull and limbs joint by joint: with `RUNS` 38 calls."""
    runs: list[Run] = []
    parts: dict[str, tuple[int, ...]] = {}

    def add(part: str, own: Sequence[Run]) -> None:
        parts[part] = tuple(range(len(runs), len(runs) + len(own)))
        runs.extend(own)

    for chain, count in counts.items():
        children = [child for child in posing.find_chain(chain).children if child != "skull"]
        add(chain, [Run(chain, tuple(piece), 2) for piece in np.array_split(np.array(children, object), count)])
    add("skull", [Run("", ("skull",), 2)])
    for limb, bones in LIMBS.items():
        for side in ("left", "right"):
            add(f"{limb} {side}", [Run("", (f"{bone} {side}",), 1 + (bone in BALLS)) for bone in bones])
    return Plan(posing, tuple(runs), parts)


def make_calls(posing: Posing, calls: Sequence[Call]) -> Pose:
    """The pose that calls make, one after the other, from neutral: by the core's functions that the operators call."""
    pose = Pose("by eye")
    for call in calls:
        given = call.given
        angles = np.array([given.get(name, 0.0) for name in ("flexion", "lateral", "axial")])
        if call.operator == "move_body":
            pose = replace(pose, X_WN=place_whole(posing, pose.X_WN, given["offset"], given["turn"]))
        elif call.operator == "bend_chain":
            part = take_part(posing, posing.find_chain(given["chain"]), given["first"], given["last"])
            pose = bend_chain(posing, pose, part.children, total_rad=angles).pose
        else:
            joint = posing.skeleton.joint_of(given["element"])
            turned = turn_joint(joint, np.zeros(3), angles, True).angles_rad
            pose = replace(pose, angles_rad={**pose.angles_rad, joint.child: turned})
    return pose


def place_whole(posing: Posing, X_WN: np.ndarray, offset_m: Sequence[float], turn_rad: Sequence[float]) -> np.ndarray:
    """(4, 4) where the whole stands once it is turned about its root's centre and moved."""
    middle, R = X_WN[:3] @ np.append(posing.skeleton.root.solid.centre_m, 1.0), turn_by(turn_rad)
    return make_transform(R, middle + offset_m - R @ middle) @ X_WN


def turn_by(euler_rad: Sequence[float]) -> np.ndarray:
    """(3, 3) about x, then y, then z of the world."""
    (cx, cy, cz), (sx, sy, sz) = np.cos(euler_rad), np.sin(euler_rad)
    about_x = np.array([[1, 0, 0], [0, cx, -sx], [0, sx, cx]])
    about_y = np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
    about_z = np.array([[cz, -sz, 0], [sz, cz, 0], [0, 0, 1]])
    return about_z @ about_y @ about_x
