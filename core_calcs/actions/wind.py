"""Wind as one pressure on the silhouette of the whole, from every direction.

The force on the whole is q · c_f · A at the centroid of the silhouette A. For joints it is handed out over the
elements: each takes what the wind meets of it alone, and an equal part of what it covers together with others in the
wind's line. So a neck that nothing covers takes its wind in full, ribs one behind the other share theirs, and all
together take what the whole takes, force and moment. One share for all of them, union over sum, would take from the
neck what the ribs cover; each in full, without shielding, would add up to more than the whole: that sum is given as
the upper bound.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh.silhouettes import OutlinedCrowd, Silhouette, measure_silhouette
from ..site.actions import Wind
from ..spatial.transforms import Array
from .variable import WIND_NAME, VariableAction, spread_directions


@dataclass(frozen=True, eq=False)
class WindAreas:
    """What a pose shows to the wind, by direction (w,).

    directions : (w, 3) where it blows to
    area_m2, centroid_m : (w,), (w, 3) of the silhouette, in the plane through the world's origin across the direction
    unshielded_m2 : (w,) sum over the elements, each by itself
    shared_m2, shared_centroid_m : (w, n), (w, n, 3) what falls to each element
    """

    directions: Array
    area_m2: Array
    centroid_m: Array
    unshielded_m2: Array
    shared_m2: Array
    shared_centroid_m: Array


def measure_wind_areas(crowd: OutlinedCrowd, count: int) -> WindAreas:
    """Silhouettes of a posed crowd in so many directions; seen from behind they are the same."""
    directions = spread_directions(count)
    half = count // 2 if count % 2 == 0 else count
    seen: list[Silhouette] = [measure_silhouette(crowd, direction) for direction in directions[:half]]
    seen = seen * (count // half)
    return WindAreas(
        directions,
        np.array([own.area_m2 for own in seen]),
        np.array([own.centroid_m for own in seen]),
        np.array([own.own_m2.sum() for own in seen]),
        np.array([own.shared_m2 for own in seen]),
        np.array([own.shared_centroid_m for own in seen]),
    )


def blow(areas: WindAreas, wind: Wind) -> VariableAction:
    """The wind on every element, all round."""
    pressed = wind.pressure_Pa * wind.force_coefficient * areas.shared_m2
    forces = pressed[:, :, None] * areas.directions[:, None, :]
    bodies = np.arange(areas.shared_m2.shape[1])
    return VariableAction(WIND_NAME, "wind", areas.directions, bodies, forces, areas.shared_centroid_m)
