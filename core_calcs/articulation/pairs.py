"""Bones of left and right as the audit sees them: who is whose partner, how they stand, how alike they are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..mesh.surface import Surface
from ..skeleton.element_names import name_partner
from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import Array, invert
from .bones import Body, Bone, prepare_body
from .registration import Way, lay_upon
from .seating import Seat, Standing, find_neighbours, seat_bone

PAIRED = ("limb", "girdle")
BESIDE = (*PAIRED, "sacral")
"""Series of the bones that are audited, and of those that they may be held against."""
LEAST_OFF_S = 0.004
"""Partners are never taken to be more alike than this: what points so far apart can tell."""
ODD = 1.5
"""A bone is unlike its partner where it is so many times as far from its mirror image as most are."""
LIKER = 1.6
"""Two pairs are crossed where they are so many times as far from their own partners as from the other's."""
ALIKE = 2.0
"""And no farther from that than so many times what most are from their own."""
_NEARLY = 1.3
"""Ways of laying a bone upon another that come within this factor of the closest are all tried."""


@dataclass(frozen=True, eq=False)
class Shapes:
    """Bones' shapes by name, and the ways that were found to lay them upon each other, which are kept."""

    bodies: Mapping[str, Body]
    ways: dict[tuple[str, str, bool], tuple[Way, ...]] = field(default_factory=dict)

    def lay(self, one: str, other: str, mirrored: bool = False) -> tuple[Way, ...]:
        """The ways that a bone, or its mirror image, lies closest upon another, the closest first."""
        key = one, other, mirrored
        if key not in self.ways:
            body = self.bodies[one].mirrored if mirrored else self.bodies[one]
            self.ways[key] = lay_upon(body, self.bodies[other])
        return self.ways[key]

    def near_ways(self, one: str, other: str, mirrored: bool = False) -> tuple[Way, ...]:
        """Those that are nearly as close as the closest."""
        ways = self.lay(one, other, mirrored)
        return tuple(way for way in ways if way.off_s <= _NEARLY * ways[0].off_s)


@dataclass(frozen=True)
class Pair:
    """The same bone of both sides; off_s: how far each is from the other's mirror image, in sizes."""

    left: str
    right: str
    off_s: float

    def on(self, side: str) -> str:
        """That of a side."""
        return self.left if side == "left" else self.right


@dataclass(frozen=True, eq=False)
class Scene:
    """All bones as they stand.

    usual_off_s : how far partners are from each other's mirror image, most of them
    """

    shapes: Shapes
    standings: Mapping[str, Standing]
    pairs: tuple[Pair, ...]
    usual_off_s: float

    def move(self, standings: Mapping[str, Standing]) -> Scene:
        """The same with some bones elsewhere, by the name of the place that they take."""
        return replace(self, standings={**self.standings, **standings})

    def stand(self, name: str, X_WB: Array) -> Standing:
        """A bone somewhere else."""
        return Standing(name, self.shapes.bodies[name], X_WB)

    def seat(self, standing: Standing, neighbours: Sequence[Standing] | None = None) -> Seat:
        """Where a bone fits best, near to where it is made to stand."""
        if neighbours is None:
            neighbours = find_neighbours(standing, self.standings.values())
        return seat_bone(standing, neighbours)

    def place(self, name: str, X_WB: Array) -> Array:
        """(4, 4) X_WE of a bone's own surface, its shape standing at X_WB."""
        placed: Array = X_WB @ invert(self.shapes.bodies[name].X_EB)
        return placed


def prepare_shapes(surfaces: Mapping[str, Surface], progress: Progress = ignore_progress) -> Shapes:
    """The shapes of bones by name; one that encloses no volume is left out."""
    bodies = {}
    for i, (name, surface) in enumerate(surfaces.items()):
        progress(f"looking at {name}", i / len(surfaces))
        body = prepare_body(surface)
        if body is not None:
            bodies[name] = body
    return Shapes(bodies)


def set_scene(bones: Sequence[Bone], shapes: Shapes, progress: Progress = ignore_progress) -> Scene:
    """Find partners by name and side, and hold each against the other's mirror image."""
    sides = {bone.name: bone.side for bone in bones if bone.series in PAIRED and bone.name in shapes.bodies}
    standings = {
        bone.name: Standing(bone.name, body, bone.X_WE @ body.X_EB)
        for bone in bones
        if (body := shapes.bodies.get(bone.name)) is not None
    }
    pairs = []
    for i, (name, side) in enumerate(sides.items()):
        partner = name_partner(name)
        if side == "left" and sides.get(partner) == "right":
            progress(f"holding {name} against {partner}", i / len(sides))
            pairs.append(Pair(name, partner, shapes.lay(partner, name, mirrored=True)[0].off_s))
    usual = float(np.median([pair.off_s for pair in pairs])) if pairs else 0.0
    return Scene(shapes, standings, tuple(pairs), max(usual, LEAST_OFF_S))
