"""Made-up animals of boxes, from fifty elements to six hundred, to be dragged: limbs of many bones, ribs, a long tail.

    python tests/benchmarks/herd.py FOLDER COUNT

writes the scans and the skeleton document; something of every kind acts on it, and it stands.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from unit.box_beast import Box, make_element, make_joint

from core_calcs.build.build import Build, Material
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import write_document
from core_calcs.site.actions import PointAction, Wind
from core_calcs.site.site import Site
from core_calcs.skeleton.directions import list_directions
from core_calcs.skeleton.joint import Envelope, Joint
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, build_skeleton

HIP_M = 1.2
STEP_M = 0.09
BETWEEN_M = 0.012
TURN_RAD = 0.01
TOLERANCE_M = 0.3
"""Feet of a bone that was turned still stand: every figure is computed at every turn."""


def list_bones(count: int) -> tuple[list[Box], list[str]]:
    """So many boxes, parents first, and the four that stand on the ground.

    A fifteenth each of trunk and neck, ribs by pairs, a sixth of the whole in four legs; of what is left a vertebra of
    the tail each with a chevron fixed to it.
    """
    column, leg = max(count // 15, 3), max(count // 24, 3)
    boxes = [Box("sacrum", "sacral", "", (0, 0, HIP_M), (0.2, 0.14, 0.12))]
    trunk = _row("dorsal", column, "sacrum", 0.1, HIP_M, 0.0)
    for own in reversed(trunk):
        boxes.append(own)
        for side, y in (("L", 0.13), ("R", -0.13)):
            x, _, z = own.centre
            boxes.append(Box(f"rib of {own.name} {side}", "ribs", own.name, (x, y, z - 0.1), (0.02, 0.02, 0.2), False))
    x = trunk[0].centre[0] + STEP_M / 2
    neck = _row("cervical", column, trunk[0].name, x, HIP_M, 0.04)
    boxes += reversed(neck)
    x, y, z = neck[0].centre
    boxes.append(Box("skull", "skull", neck[0].name, (x + 0.2, y, z), (0.24, 0.12, 0.14)))
    feet = []
    for name, parent, x in (("hind", "sacrum", 0.0), ("fore", trunk[0].name, trunk[0].centre[0])):
        for side, y in (("L", 0.25), ("R", -0.25)):
            boxes += _leg(f"{name} leg", side, parent, leg, x, y)
            feet.append(boxes[-1].name)
    boxes += _tail(count - len(boxes))
    return boxes, feet


def _row(series: str, count: int, parent: str, x: float, z: float, rise: float) -> list[Box]:
    """Vertebrae towards the head, the foremost first."""
    found: list[Box] = []
    for i in range(count, 0, -1):
        centre = (x + STEP_M / 2, 0.0, z)
        found.insert(0, Box(f"{series} {i}", series, parent, centre, (STEP_M - BETWEEN_M, 0.09, 0.09)))
        parent, x, z = f"{series} {i}", x + STEP_M, z + rise
    return found


def _leg(name: str, side: str, parent: str, count: int, x: float, y: float) -> list[Box]:
    long, found = HIP_M / count, []
    for i in range(1, count + 1):
        centre, size = (x, y, HIP_M - long * (i - 0.5)), (0.07, 0.07, long - BETWEEN_M)
        found.append(Box(f"{name} {i} {side}", "limb", parent, centre, size, True, (0, 0, -1)))
        parent = found[-1].name
    return found


def _tail(count: int) -> list[Box]:
    found, parent, x = [], "sacrum", -0.1
    for i in range(1, count // 2 + 1):
        name, size = f"caudal {i}", 0.06 * (1 - 1.6 * i / (count + 4))
        box = (STEP_M - BETWEEN_M, size, size)
        found.append(Box(name, "caudal", parent, (x - STEP_M / 2, 0, HIP_M), box, True, (-1, 0, 0)))
        under = (x - STEP_M / 2, 0, HIP_M - size / 2 - 0.05)
        found.append(Box(f"chevron {i}", "caudal", name, under, (0.02, 0.02, 0.08), False))
        parent, x = name, x - STEP_M
    if count % 2:
        found.append(Box("tip of the tail", "caudal", parent, (x - STEP_M / 2, 0, HIP_M), (0.05, 0.02, 0.02), False))
    return found


def make_animal(folder: Path, count: int) -> Path:
    """Scans and document of an animal of so many elements; where the document is."""
    scans = folder / "scans"
    scans.mkdir(parents=True)
    boxes, standing = list_bones(count)
    elements = tuple(make_element(box, scans, f"part {i}.stl") for i, box in enumerate(boxes))
    joints = tuple(_couple(make_joint(box, _find_hinge(box))) for box in boxes[1:])
    sole = {box.name: (box.size[0] / 2, -box.size[2] / 2) for box in boxes}
    feet = []
    for name in standing:
        half, low = sole[name]
        corners = np.array([[half, half, low], [-half, half, low], [-half, -half, low], [half, -half, low]])
        feet.append(Foot(f"foot of {name}", (Contact(name, corners),)))
    skeleton = build_skeleton(f"herd {count}", elements, joints, tuple(feet))
    actions = (
        PointAction("somebody leans on it", "push", "dorsal 1", (0.0, 0.0, 0.0), 300.0),
        PointAction("somebody hangs on it", "pull", "skull", (0.0, 0.0, 0.0), 250.0),
        PointAction("a climber", "person", "sacrum", (0.0, 0.0, 0.0), 900.0),
    )
    site = Site(contact_tolerance_m=TOLERANCE_M, friction=0.4, actions=actions, wind=Wind(600.0))
    material = Material("test bronze", 8800.0, 100.0, "made up for the benchmark")
    document = SkeletonDocument(skeleton, (_stand(joints),), Build(material), site, "scans")
    path = folder / "animal.json"
    write_document(path, document)
    return path


def _couple(joint: Joint) -> Joint:
    """With what its three axes allow together: a rounded box."""
    if joint.limits is None:
        return joint
    ends = np.array([(own.low.angle_rad, own.high.angle_rad) for own in joint.limits])
    return replace(joint, envelope=Envelope(ends, np.full(len(list_directions().directions), 0.95)))


def _stand(joints: tuple[Joint, ...]) -> Pose:
    """A little off neutral everywhere: no joint is left out of anything because it is not turned."""
    rng = np.random.default_rng(1)
    turned = {joint.child: rng.uniform(-TURN_RAD, TURN_RAD, 3) for joint in joints if joint.moves}
    return Pose("standing", turned)


def _find_hinge(box: Box) -> np.ndarray:
    """Where its parent ends: half its own length, and half of what lies between, against the way it points."""
    half = 0.5 * (np.array(box.size) + BETWEEN_M) * np.sign(box.away)
    hinge: np.ndarray = np.array(box.centre) - half
    return hinge


if __name__ == "__main__":
    print(make_animal(Path(sys.argv[1]), int(sys.argv[2])))
