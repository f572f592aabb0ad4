"""What keeps its place and attitude while the rest is posed: feet on the ground; and how far it has slipped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from ..spatial.transforms import Array, apply
from .goals import AttitudeGoal, PlaceGoal
from .linkage import Linkage, move_linkage
from .posing import Posing
from .reaching import State

Kept = tuple[PlaceGoal, AttitudeGoal]
"""Where the centre of an element that is held belongs, and its attitude."""


def list_held(posing: Posing, held: Iterable[str]) -> tuple[str, ...]:
    """Elements by name; those that a foot's contacts lie on."""
    feet = {foot.name: foot for foot in posing.skeleton.feet}
    names: list[str] = []
    for name in held:
        names += [contact.element for contact in feet[name].contacts] if name in feet else [name]
    return tuple(dict.fromkeys(names))


def hold_elements(posing: Posing, linkage: Linkage, state: State, names: Sequence[str]) -> list[Kept]:
    """Where elements stand, and how, in a state."""
    motions = move_linkage(linkage, state.angles_rad, state.X_WN)
    goals = []
    for name in names:
        element = posing.skeleton.elements[posing.skeleton.index(name)]
        X_WE = motions[linkage.places[name]] @ element.X_WE
        centre = element.solid.centre_m
        goals.append((PlaceGoal(name, centre, apply(X_WE, centre[None])[0]), AttitudeGoal(name, X_WE[:3, :3])))
    return goals


def measure_slip(posing: Posing, linkage: Linkage, motions: Array, kept: Sequence[Kept]) -> float:
    """How far [m] any centre or contact point of what is held is from its place; motions : (k, 4, 4) of the movers."""
    worst = 0.0
    for place, attitude in kept:
        element = posing.skeleton.elements[posing.skeleton.index(place.element)]
        contacts = (own for foot in posing.skeleton.feet for own in foot.contacts if own.element == place.element)
        points = np.concatenate([place.point_m[None], *(np.asarray(own.points_m).reshape(-1, 3) for own in contacts)])
        stood = place.place_m + (points - place.point_m) @ attitude.R_WE.T
        off = apply(motions[linkage.places[place.element]] @ element.X_WE, points) - stood
        worst = max(worst, float(np.linalg.norm(off, axis=1).max()))
    return worst
