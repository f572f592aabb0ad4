"""Verdicts as an audit leaves them, made up for the tests."""

from __future__ import annotations

import bpy
import numpy as np
from scenes import Scene


def keep_verdicts(scene: Scene, *found: tuple[str, str, tuple[str, ...]]) -> None:
    """As an audit leaves them: fault, decision, elements; turned end for end, or exchanged, centre for centre."""
    of = scene.part("core_calcs.skeleton.verdict")
    verdicts = []
    for fault, decision, names in found:
        there = find_places(scene, fault, names)
        ratings = (
            of.Rating("end for end", 3.25, (("facets that meet [s2]", 0.3125),), there),
            of.Rating("as placed", 1.5, ()),
        )
        places = there if decision == "wrong" else {}
        verdicts.append(of.Verdict(fault, names, decision, ratings, places, "end for end 3.25, as placed 1.50"))
    kept = scene.part("bridge.kept_document").keep_document(bpy.context.scene)
    scene.part("bridge.figures").refresh_figures(bpy.context)
    scene.part("bridge.audit").keep_audit(bpy.context.scene, kept, verdicts)


def find_places(scene: Scene, fault: str, names: tuple[str, ...]) -> dict[str, np.ndarray]:
    skeleton = scene.document.skeleton
    centres = {n: np.array(skeleton.elements[skeleton.index(n)].solid.centre_m) for n in names}
    places = {}
    for name, there in zip(names, reversed(names), strict=True):
        R = np.diag([-1.0, -1.0, 1.0]) if fault == "turned" else np.eye(3)
        X = np.eye(4)
        X[:3, :3], X[:3, 3] = R, centres[there] - R @ centres[name]
        places[name] = X
    return places
