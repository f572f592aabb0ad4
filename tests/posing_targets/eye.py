"""What an artist's eye does: pictures of the animal beside the target's, how far off they are, and which way.

The eye sees outlines as distances: of points of the animal from what the target covers, and of places of the target
from the animal. It knows the target by its pictures alone, from the side and from above. What counts is measured by
the core's silhouettes, to the edge.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from animal import Animal
from scipy.ndimage import binary_closing, distance_transform_edt
from scipy.spatial import cKDTree

from core_calcs.mesh.silhouettes import OutlinedCrowd, measure_silhouette, place_bodies
from core_calcs.skeleton.kinematics import find_movers, move_elements
from core_calcs.skeleton.pose import Pose

VIEWS = {"side": (0.0, 1.0, 0.0), "top": (0.0, 0.0, 1.0)}
PLANES = {"side": (0, 2), "top": (0, 1)}
"""The two world axes that lie in each picture."""
PITCH_M, SPACING_M = 0.008, 0.006
"""Of the pictures' pixels; and of the points that are strewn over the animal to draw it by."""
LOW, HIGH = np.array([-5.5, -3.6, -1.5]), np.array([5.0, 3.6, 5.0])

Pictures = Mapping[str, np.ndarray]
"""By view (h, w): what is covered."""


@dataclass(frozen=True, eq=False)
class Cloud:
    """Points (n, 3) strewn over the animal at neutral, in no order, and which mover each rides on (n,)."""

    points: np.ndarray
    mover: np.ndarray

    def take(self, rows: np.ndarray | slice) -> Cloud:
        """Some of them."""
        return Cloud(self.points[rows], self.mover[rows])

    def move(self, motions: np.ndarray) -> np.ndarray:
        """(n, 3) where the movers' motions (k, 4, 4) bring them."""
        own = motions[self.mover]
        return np.einsum("nij,nj->ni", own[:, :3, :3], self.points) + own[:, :3, 3]


@dataclass(frozen=True, eq=False)
class Seen:
    """What is off, n distances.

    off_m : (n,); ways : (n, 3) which way the point must not go; rows : (n,) which point of the animal
    weights : (n,) one over how many were looked at
    """

    off_m: np.ndarray
    ways: np.ndarray
    rows: np.ndarray
    weights: np.ndarray


def strew_cloud(animal: Animal, seed: int = 0) -> Cloud:
    """Points all over the animal."""
    rng = np.random.default_rng(seed)
    strewn = [_strew(vertices, faces, rng) for vertices, faces in zip(animal.vertices, animal.faces, strict=True)]
    carriers = np.repeat(find_movers(animal.skeleton).carriers, [len(own) for own in strewn])
    order = rng.permutation(len(carriers))
    return Cloud(np.concatenate(strewn)[order], carriers[order])


def draw_pictures(world: np.ndarray) -> Pictures:
    """What points (n, 3) in the world cover."""
    at = ((np.clip(world, LOW, HIGH) - LOW) / PITCH_M).astype(np.int64)
    shape = ((HIGH - LOW) / PITCH_M).astype(int) + 1
    pictures = {}
    for view, (u, v) in PLANES.items():
        covered = np.zeros((shape[v], shape[u]), bool)
        covered[at[:, v], at[:, u]] = True
        pictures[view] = binary_closing(covered)
    return pictures


class Eye:
    """Looks at so many points of the animal and so many places of each of the target's pictures."""

    def __init__(self, cloud: Cloud, pictures: Pictures, points: int, places: int) -> None:
        rng = np.random.default_rng(0)
        self.cloud, self.looks = cloud.take(slice(points)), 0
        self.points, self.count = points, places
        self.fields, self.places, self.spacing_m = {}, {}, {}
        for view, covered in pictures.items():
            away = distance_transform_edt(~covered) * PITCH_M
            slope_v, slope_u = np.gradient(away, PITCH_M)
            self.fields[view] = np.stack([away, slope_u, slope_v])
            rows, columns = np.nonzero(covered)
            chosen = rng.choice(len(rows), min(places, len(rows)), replace=False)
            self.places[view] = (np.stack([columns, rows], axis=1)[chosen] + 0.5) * PITCH_M + LOW[list(PLANES[view])]
            self.spacing_m[view] = float(np.sqrt(2 * covered.sum() * PITCH_M**2 / points))

    def compare(self, world: np.ndarray) -> Seen:
        """What is off where the animal's points are at (n, 3)."""
        self.looks += 1
        found = []
        for view, plane in PLANES.items():
            flat = world[:, plane]
            away = self.find_away(view, flat)
            outside = np.flatnonzero(away[0] > 0)
            found.append((away[0, outside], away[1:, outside].T, outside, self.points, plane))
            distance, nearest = cKDTree(flat, balanced_tree=False, compact_nodes=False).query(self.places[view])
            missing = np.flatnonzero(distance > self.spacing_m[view])
            near = nearest[missing]
            ways = (flat[near] - self.places[view][missing]) / distance[missing, None]
            found.append((distance[missing] - self.spacing_m[view], ways, near, self.count, plane))
        ways = [np.zeros((len(own[0]), 3)) for own in found]
        for way, own in zip(ways, found, strict=True):
            way[:, own[4]] = own[1]
        return Seen(
            np.concatenate([own[0] for own in found]),
            np.concatenate(ways),
            np.concatenate([own[2] for own in found]),
            np.concatenate([np.full(len(own[0]), 1 / own[3]) for own in found]),
        )

    def find_away(self, view: str, flat: np.ndarray) -> np.ndarray:
        """(3, n) how far points (n, 2) of a picture are from what the target covers, and the slopes of that."""
        field = self.fields[view]
        column, row = ((flat - LOW[list(PLANES[view])]) / PITCH_M).astype(int).T
        return field[:, np.clip(row, 0, field.shape[1] - 1), np.clip(column, 0, field.shape[2] - 1)]


class Ruler:
    """Measures poses against one target, to the edge."""

    def __init__(self, animal: Animal, target: Pose) -> None:
        self.animal, self.movers = animal, find_movers(animal.skeleton)
        self.target = self._place(target)
        self.areas = {view: _measure(self.target, way) for view, way in VIEWS.items()}

    def measure(self, pose: Pose) -> dict[str, float]:
        """Of each view the area that only one of pose and target covers, as a share of the target's."""
        own = self._place(pose)
        both = _join(own, self.target)
        found = {}
        for view, way in VIEWS.items():
            found[view] = (2 * _measure(both, way) - _measure(own, way) - self.areas[view]) / self.areas[view]
        return found

    def _place(self, pose: Pose) -> OutlinedCrowd:
        return place_bodies(self.animal.bodies, move_elements(self.animal.skeleton, self.movers, pose))


def _measure(crowd: OutlinedCrowd, way: tuple[float, float, float]) -> float:
    return measure_silhouette(crowd, np.array(way)).area_m2


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
