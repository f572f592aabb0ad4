"""The strider's mount audited in Blender and put right, and held against how its bones were made to stand."""

from __future__ import annotations

import math
import sys
from importlib import import_module

import bpy
import numpy as np

BY = "the demo"
REASON = "the audit finds it so, and the drawing of the animal agrees"
NEAR_M, NEAR_DEG = 0.004, 4.0
"""So far from where it was made to stand a bone may be put back: a place to find its joints from."""


def audit_and_put_right(add_on: str) -> list[str]:
    """Audit, and put right all that is said to be wrong, with a reason; the titles of what it was."""
    scene = bpy.context.scene
    scene.counterpoise.recorded_by = BY
    bpy.ops.counterpoise.audit_orientation()
    audit = import_module(f"{add_on}.bridge.audit")
    wrong = audit.drawn_audit(scene).wrong
    for verdict in wrong:
        bpy.ops.counterpoise.put_right(number=verdict.number, reason=REASON)
    return [verdict.title for verdict in wrong]


def check_right(document: dict, truth: dict) -> str:
    """How far the bones that were mounted wrongly stand from where they belong, in words; stops where one does not.

    document : as saved; truth : what the generator tells
    """
    elements = {element["name"]: element for element in document["skeleton"]["elements"]}
    far_m = far_deg = 0.0
    for bone in truth["mounted_wrongly"]:
        element = elements[bone["element"]]
        if element["source"]["file"] != bone["file"]:
            sys.exit(f"{bone['element']} is not put right: it still has {element['source']['file']}")
        X_WE, right = np.array(element["X_WE"]), np.array(bone["X_WE"])
        centre = np.append(element["solid"]["centre_m"], 1.0)
        turn = X_WE[:3, :3] @ right[:3, :3].T
        far_m = max(far_m, float(np.linalg.norm((X_WE - right) @ centre)))
        far_deg = max(far_deg, math.degrees(math.acos(min(1.0, (float(np.trace(turn)) - 1) / 2))))
    told = f"they stand within {1000 * far_m:.1f} mm and {far_deg:.1f}° of where they were made to"
    if far_m > NEAR_M or far_deg > NEAR_DEG:
        sys.exit(f"The mount is not put right: {told}")
    return told
