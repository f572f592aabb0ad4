"""The demo's invented animal as a skeleton whose joints stand where they were drawn; nothing is looked for in surfaces.

Its limits and envelopes are made up: those of the column here, those of the limbs as the demo sets them by hand.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2] / "demo_blend"))
sys.path.insert(0, str(Path(__file__).parents[1]))
from made_up_chain import make_envelope
from strider.animal import Element as Drawn
from strider.animal import make_elements, tell_truth
from strider_poses import BY_HAND

from core_calcs.mesh.silhouettes import OutlinedBody, outline_body
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.joint import AxisLimit, Joint, Stop
from core_calcs.skeleton.tree import Skeleton, build_skeleton
from core_calcs.spatial.transforms import make_transform

COLUMN_DEG = {"cervical": (12.0, 9.0, 4.0), "dorsal": (5.0, 4.0, 3.0), "caudal": (7.0, 7.0, 3.0)}
"""Greatest flexion, lateral, axial of a joint either way, by the series of its child; each end is 0.6 to 1 of it."""
TURNING = ("skull", "femur", "tibia", "astragalus", "humerus", "ulna")
"""Of what is no vertebra, the bones whose joints turn, by the first word of the name."""
DETAIL = 0.2


@dataclass(frozen=True, eq=False)
class Animal:
    """The skeleton, and of every element its surface, as silhouettes take it and as vertices and faces; at neutral."""

    skeleton: Skeleton
    bodies: tuple[OutlinedBody, ...]
    vertices: tuple[np.ndarray, ...]
    faces: tuple[np.ndarray, ...]


def make_animal(seed: int = 1, detail: float = DETAIL) -> Animal:
    """The animal; the same seed makes the same."""
    rng = np.random.default_rng(seed)
    truth = tell_truth()
    drawn = list(make_elements(seed, detail))
    elements, surfaces = {}, {}
    for own in drawn:
        surface, solid = survey_body(Surface(own.vertices, own.faces))
        source = Source(f"{own.name}.stl", None, 1.0, "0" * 64)
        elements[own.name] = Element(
            own.name,
            own.series,
            own.position,
            own.side,
            "sculpted",
            source,
            solid,
            np.eye(4),  # type: ignore[arg-type]
        )
        surfaces[own.name] = surface
    joints = tuple(_make_joint(own, truth, elements, rng) for own in drawn if own.parent)
    skeleton = build_skeleton("quay strider", tuple(elements.values()), joints)
    own_surfaces = [surfaces[element.name] for element in skeleton.elements]
    return Animal(
        skeleton,
        tuple(outline_body(surface) for surface in own_surfaces),
        tuple(surface.vertices for surface in own_surfaces),
        tuple(surface.faces for surface in own_surfaces),
    )


def _make_joint(own: Drawn, truth: dict[str, Any], elements: dict[str, Element], rng: np.random.Generator) -> Joint:
    centre = elements[own.name].solid.centre_m
    fixed = Joint(
        own.parent, own.name, "fixed", make_transform(np.eye(3), centre), (1, 1, 1), None, (), "none", "", None
    )
    if own.attachment == "column":
        return _make_column_joint(own, truth["column"], elements, rng, fixed)
    kind, known = own.name.partition(" ")[0], truth["limb_joints"] | truth["joints_without_surfaces"]
    if kind not in TURNING or own.name not in known:
        return fixed
    told = known[own.name]
    axis, *degrees = BY_HAND[kind]
    if told.get("axes"):
        way = np.array(told["axes"][0]["direction"])
        axis = way * np.sign(way @ axis)
    X_WJ = _make_frame(np.array(axis, float), np.array(told["away_from_parent"]), np.array(told["centre_m"]))
    limits = tuple(AxisLimit(*(Stop(float(np.radians(end)), "by hand", None) for end in pair)) for pair in degrees)
    other = -1 if own.side == "right" else 1
    return replace(fixed, kind="by hand", X_WJ=X_WJ, senses=(1, other, other), limits=limits)


def _make_column_joint(
    own: Drawn, column: list[dict[str, Any]], elements: dict[str, Element], rng: np.random.Generator, fixed: Joint
) -> Joint:
    """Flexion bends the child to the belly, lateral bending to the left, whichever way along the column it hangs."""
    told = next(j for j in column if {j["headward"], j["tailward"]} == {own.name, own.parent})
    headward = told["headward"] == own.name
    away = elements[own.name].solid.centre_m - elements[own.parent].solid.centre_m
    across = np.array([0.0, 1.0 if headward else -1.0, 0.0])
    widest = np.array(COLUMN_DEG[own.series])
    ends = np.radians(rng.uniform(0.6, 1.0, (3, 2)) * widest[:, None]) * (-1, 1)
    limits = tuple(AxisLimit(*(Stop(float(end), "facet overlap", None) for end in pair)) for pair in ends)
    return replace(
        fixed,
        kind="column",
        X_WJ=_make_frame(across, away, np.array(told["centre_m"])),
        senses=(1, -1 if headward else 1, 1),
        limits=limits,
        envelope=make_envelope(rng, limits),
    )


def _make_frame(flexion: np.ndarray, away: np.ndarray, centre: np.ndarray) -> np.ndarray:
    x = flexion / np.linalg.norm(flexion)
    y = away - x * (x @ away)
    y /= np.linalg.norm(y)
    return make_transform(np.stack([x, y, np.cross(x, y)], axis=1), centre)
