"""A made-up skeleton of boxes, with its STL files: head, neck, trunk, tail, four legs."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import trimesh

from core_calcs.build.build import Build, Material
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import write_document
from core_calcs.mesh.reading import hash_file, read_surface
from core_calcs.mesh.survey import survey_body
from core_calcs.site.site import Site
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.joint import AxisLimit, Joint, LimitSettings, Stop
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, build_skeleton

MILLIMETRE = 0.001


@dataclass(frozen=True)
class Box:
    """One element: a box of a size about a centre [m], hung on a parent at a point; a joint that turns, or none."""

    name: str
    series: str
    parent: str
    centre: tuple[float, float, float]
    size: tuple[float, float, float]
    moves: bool = True
    away: tuple[float, float, float] = (1.0, 0.0, 0.0)


def list_boxes() -> list[Box]:
    boxes = [Box("sacrum", "sacral", "", (0, 0, 1.0), (0.2, 0.12, 0.12))]
    parent, x, z = "sacrum", 0.1, 1.0
    for i in range(6, 0, -1):
        boxes.append(Box(f"dorsal {i}", "dorsal", parent, (x + 0.06, 0, z), (0.1, 0.1, 0.1)))
        parent, x = f"dorsal {i}", x + 0.12
    chest = parent
    for i in range(5, 0, -1):
        boxes.append(Box(f"cervical {i}", "cervical", parent, (x + 0.05, 0, z), (0.09, 0.07, 0.07), True, (1, 0, 0.6)))
        parent, x, z = f"cervical {i}", x + 0.1, z + 0.06
    boxes.append(Box("skull", "skull", parent, (x + 0.1, 0, z), (0.24, 0.12, 0.14)))
    boxes.append(Box("jaw", "skull", "skull", (x + 0.13, 0, z - 0.11), (0.18, 0.08, 0.03), False))
    parent, x, z = "sacrum", -0.1, 1.0
    for i in range(1, 11):
        size = 0.09 * (1 - 0.07 * i)
        boxes.append(Box(f"caudal {i}", "caudal", parent, (x - 0.05, 0, z), (0.08, size, size), True, (-1, 0, 0)))
        parent, x, z = f"caudal {i}", x - 0.1, z - 0.02
    for name, y in (("L", 0.2), ("R", -0.2)):
        boxes.append(Box(f"hind leg {name}", "limb", "sacrum", (0.02, y, 0.5), (0.09, 0.09, 1.0), False))
        boxes.append(Box(f"fore leg {name}", "limb", chest, (0.76, y, 0.5), (0.08, 0.08, 1.0), False))
    return boxes


def box_side(name: str) -> str:
    return {" L": "left", " R": "right"}.get(name[-2:], "middle")


def make_element(box: Box, folder: Path, file: str) -> Element:
    """Write the box as STL in millimetres about its own origin and survey it."""
    mesh = trimesh.creation.box(np.array(box.size) / MILLIMETRE)
    mesh = mesh.subdivide().subdivide()
    mesh.export(folder / file)
    _, solid = survey_body(read_surface(folder / file, MILLIMETRE))
    X_WE = np.eye(4)
    X_WE[:3, 3] = box.centre
    source = Source(file, None, MILLIMETRE, hash_file(folder / file))
    return Element(box.name, box.series, None, box_side(box.name), "sculpted", source, solid, X_WE)


def make_joint(box: Box, at: np.ndarray) -> Joint:
    away = np.array(box.away) / np.linalg.norm(box.away)
    flexion = np.array([0.0, 1.0, 0.0])
    X_WJ = np.eye(4)
    X_WJ[:3, :3] = np.stack([flexion, away, np.cross(flexion, away)], axis=1)
    X_WJ[:3, 3] = at
    limits, settings = None, None
    if box.moves:
        ends = ("facet overlap", "bone contact"), ("gap", "search range"), ("by hand", "bone contact")
        limits = tuple(
            AxisLimit(Stop(-np.radians(a), low, at), Stop(np.radians(a + 1), high, None))
            for a, (low, high) in zip((12.0, 9.0, 4.0), ends, strict=True)
        )
        settings = LimitSettings()
    kind = "column" if box.moves else "fixed"
    return Joint(box.parent, box.name, kind, X_WJ, (1, 1, 1), limits, (), "found", "made up", settings)


def make_box_document(folder: Path) -> tuple[SkeletonDocument, Path]:
    scans = folder / "scans"
    scans.mkdir()
    boxes = list_boxes()
    elements = tuple(make_element(box, scans, f"part {i}.stl") for i, box in enumerate(boxes))
    joints = []
    for box in boxes[1:]:
        half = 0.55 * np.sign(np.array(box.away) * (1, 1, 0)) * box.size[0]
        joints.append(make_joint(box, np.array(box.centre) - (half if box.series != "limb" else (0, 0, -0.5))))
    feet = []
    for element in elements:
        if element.series == "limb":
            x, y = 0.04, 0.04
            sole = np.array([[x, y, -0.5], [-x, y, -0.5], [-x, -y, -0.5], [x, -y, -0.5]])
            feet.append(Foot(element.name.replace("leg", "foot"), (Contact(element.name, sole),)))
    skeleton = build_skeleton("Box beast", elements, tuple(joints), tuple(feet))
    turned = {f"cervical {i}": np.radians([-6.0, 5.0, 1.0]) for i in range(1, 6)}
    turned["caudal 3"] = np.radians([15.0, -3.0, 0.0])
    poses = (Pose("neutral"), Pose("looking up / left", turned, note="neck raised, tail down"))
    material = Material("test bronze", 8800.0, 100.0, "made up for the test")
    document = SkeletonDocument(skeleton, poses, Build(material), Site(reserve_m=0.05), "scans")
    path = folder / "beast.json"
    write_document(path, document)
    return document, path
