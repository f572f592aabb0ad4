"""What an artist's eye does: two pictures of the animal beside the target's, how far off they are, what differs.

The eye sees outlines as distances: of points of the animal from what the target covers, and of places of the target
from the animal. What counts is measured by the core's silhouettes, to the edge.
"""

from __future__ import annotations

import numpy as np
from animal import Animal
from scipy.ndimage import binary_closing, distance_transform_edt, map_coordinates
from scipy.spatial import cKDTree

from core_calcs.mesh.silhouettes import OutlinedCrowd, measure_silhouette, place_bodies
from core_calcs.skeleton.kinematics import find_movers, move_elements
from core_calcs.skeleton.pose import Pose

VIEWS = {"side": (0.0, 1.0, 0.0), "top": (0.0, 0.0, 1.0)}
PLANES = {"side": (0, 2), "top": (0, 1)}
"""The two world axes that lie in each picture."""
PITCH_M, SPACING_M = 0.008, 0.006
"""Of the target's raster; and of the points that are strewn over the animal to draw it by."""
POINTS, PLACES = 10000, 2500
"""So many points of the animal are looked at, and so many places of each of the target's pictures."""
LOW, HIGH = np.array([-5.5, -3.6, -1.5]), np.array([5.0, 3.6, 5.0])


class Eye:
    """Looks at poses of one animal beside the silhouettes of one target."""

    def __init__(self, animal: Animal, target: Pose) -> None:
        self.animal, self.movers = animal, find_movers(animal.skeleton)
        rng = np.random.default_rng(0)
        strewn = [_strew(vertices, faces, rng) for vertices, faces in zip(animal.vertices, animal.faces, strict=True)]
        points, body = np.concatenate(strewn), np.repeat(np.arange(len(strewn)), [len(own) for own in strewn])
        masks = _draw(_move(points, body, move_elements(animal.skeleton, self.movers, target)))
        chosen = np.sort(rng.choice(len(points), POINTS, replace=False))
        self.points, self.body = points[chosen], body[chosen]
        self.away = {view: distance_transform_edt(~mask) * PITCH_M for view, mask in masks.items()}
        self.places = {view: _pick(mask, view, rng) for view, mask in masks.items()}
        self.crowd = self._place(target)
        self.areas = {v: measure_silhouette(self.crowd, np.array(way)).area_m2 for v, way in VIEWS.items()}
        self.looks = 0

    def compare(self, pose: Pose) -> np.ndarray:
        """Distances [m], by view: of the animal's points from the target, then of the target's places from it."""
        self.looks += 1
        world = _move(self.points, self.body, move_elements(self.animal.skeleton, self.movers, pose))
        found = []
        for view, (u, v) in PLANES.items():
            flat = world[:, [u, v]]
            at = (flat - LOW[[u, v]]) / PITCH_M - 0.5
            outside = map_coordinates(self.away[view], at.T[::-1], order=1, mode="nearest")
            missing, _ = cKDTree(flat, balanced_tree=False, compact_nodes=False).query(self.places[view])
            spacing = np.sqrt(2 * self.areas[view] / POINTS)
            found += [outside * np.sqrt(PLACES / POINTS), np.maximum(missing - spacing, 0)]
        return np.concatenate(found)

    def measure(self, pose: Pose) -> dict[str, float]:
        """Of each view the area that only one of pose and target covers, as a share of the target's; to the edge."""
        own = self._place(pose)
        both = _join(own, self.crowd)
        found = {}
        for view, way in VIEWS.items():
            area, union = (measure_silhouette(crowd, np.array(way)).area_m2 for crowd in (own, both))
            found[view] = (2 * union - area - self.areas[view]) / self.areas[view]
        return found

    def _place(self, pose: Pose) -> OutlinedCrowd:
        return place_bodies(self.animal.bodies, move_elements(self.animal.skeleton, self.movers, pose))


def _move(points: np.ndarray, body: np.ndarray, motions: np.ndarray) -> np.ndarray:
    return np.matmul(motions[body, :3, :3], points[:, :, None])[..., 0] + motions[body, :3, 3]


def _draw(world: np.ndarray) -> dict[str, np.ndarray]:
    """Each view's raster of what is covered (h, w)."""
    at = ((np.clip(world, LOW, HIGH) - LOW) / PITCH_M).astype(np.int64)
    shape = ((HIGH - LOW) / PITCH_M).astype(int) + 1
    masks = {}
    for view, (u, v) in PLANES.items():
        masks[view] = np.zeros((shape[v], shape[u]), bool)
        masks[view][at[:, v], at[:, u]] = True
        masks[view] = binary_closing(masks[view])
    return masks


def _pick(mask: np.ndarray, view: str, rng: np.random.Generator) -> np.ndarray:
    """Places (n, 2) [m] of a picture, strewn over what it covers."""
    rows, columns = np.nonzero(mask)
    chosen = rng.choice(len(rows), min(PLACES, len(rows)), replace=False)
    picked: np.ndarray = (np.stack([columns, rows], axis=1)[chosen] + 0.5) * PITCH_M + LOW[list(PLANES[view])]
    return picked


def _strew(vertices: np.ndarray, faces: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Points all over a surface, about a spacing apart, and its corners."""
    a, b, c = (vertices[column] for column in faces.T)
    areas = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2
    count = int(areas.sum() / SPACING_M**2) + 1
    face = rng.choice(len(faces), count, p=areas / areas.sum())
    u, v = rng.uniform(size=(2, count, 1))
    over = u + v > 1
    u, v = np.where(over, 1 - u, u), np.where(over, 1 - v, v)
    return np.concatenate([vertices, a[face] + u * (b - a)[face] + v * (c - a)[face]])


def _join(one: OutlinedCrowd, other: OutlinedCrowd) -> OutlinedCrowd:
    return OutlinedCrowd(
        np.concatenate([one.vertices, other.vertices]),
        np.concatenate([one.edges, other.edges + len(one.vertices)]),
        np.concatenate([one.sides, other.sides + len(one.normals)]),
        np.concatenate([one.normals, other.normals]),
        np.concatenate([one.edge_body, other.edge_body + one.count]),
        one.count + other.count,
    )
