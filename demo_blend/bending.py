"""Bending whole series of a rig by shares of their ranges."""

from __future__ import annotations

import bpy


def bend_series(skeleton: dict, shares: dict[str, tuple[float, float]], begin: int = 1) -> None:
    """Turn the joints of whole series by shares of their own ranges, as an artist would turn the bones.

    begin : the first position in the series that is turned
    """
    elements = {element["name"]: element for element in skeleton["elements"]}
    rig = bpy.context.scene.counterpoise.rig
    for joint in skeleton["joints"]:
        child = elements[joint["child"]]
        if joint["kind"] == "fixed" or child["series"] not in shares or (child["position"] or 0) < begin:
            continue
        flexion, lateral = (
            share * abs(limit["high" if share > 0 else "low"]["angle_rad"])
            for share, limit in zip(shares[child["series"]], joint["limits"], strict=False)
        )
        sense_flexion, sense_lateral, _ = joint["senses"]
        # The bones' order YZX: x is flexion, z lateral bending, y axial turn.
        rig.pose.bones[joint["child"]].rotation_euler = (sense_flexion * flexion, 0.0, sense_lateral * lateral)
    bpy.context.view_layer.update()
