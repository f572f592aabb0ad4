"""Kestrel Quay, an invented ferry forecourt: windy, passengers within arm's reach. Every figure is made up.

What is set here a user would set in the panel Site and Actions. Which wind, which crowd and which factors hold at a
real place, a licensed engineer decides.
"""

from __future__ import annotations

import bpy
import numpy as np

FRICTION, WIND_PA = 0.6, 400.0
"""Feet on grout on rough concrete, and a peak velocity pressure: invented."""

ANCHOR_KN = {"left foot": 30.0, "right foot": 30.0}
"""What the anchors of each foot hold: under all that acts it would stand without them in none of its poses."""

PASSENGERS = (
    ("passenger leans", "push", "femur left", (0.0, 1.0, 0.0), 0.3),
    ("passenger hangs on", "person", "caudal 24", (0.0, 0.0, -1.0), 0.8),
)
"""Name, kind, element and its farthest point in which direction, force [kN]."""


def place_on_quay() -> None:
    """Say where the skeleton stands and what acts on it, in the pose that the rig is in."""
    operators = bpy.ops.counterpoise
    operators.set_site(friction=FRICTION, friction_known=True)
    operators.set_wind(pressure=WIND_PA)
    for foot, tension in ANCHOR_KN.items():
        operators.set_footing(foot=foot, anchored=True, anchor_known=True, anchor=tension)
    for name, kind, element, way, force in PASSENGERS:
        operators.select_element(element=element)
        bpy.context.scene.cursor.location = find_farthest(bpy.context.view_layer.objects.active, way)
        operators.add_action(name=name, kind=kind, force=force)
    bpy.context.scene.cursor.location = (0, 0, 0)


def find_farthest(shown: bpy.types.Object, way: tuple[float, float, float]) -> np.ndarray:
    """(3,) the point of an element in the view that lies farthest in a direction."""
    matrix = np.array(shown.evaluated_get(bpy.context.evaluated_depsgraph_get()).matrix_world)
    points = np.empty(3 * len(shown.data.vertices))
    shown.data.vertices.foreach_get("co", points)
    placed = points.reshape(-1, 3) @ matrix[:3, :3].T + matrix[:3, 3]
    return placed[(placed @ way).argmax()]
