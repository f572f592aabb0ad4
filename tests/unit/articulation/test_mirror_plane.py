"""The mid-plane of a skeleton: what of it is known, whatever way the skeleton stands and whoever stands wrong."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core_calcs.articulation.mirror_plane import find_mirror_plane
from core_calcs.skeleton.element import Element, Solid, Source
from core_calcs.spatial.transforms import make_transform

SOURCE = Source("file.stl", None, 1.0, "0" * 64)


def element(name: str, side: str, centre, series: str = "limb") -> Element:
    corners = np.array(centre) - 0.1, np.array(centre) + 0.1
    solid = Solid(0.008, 0.0, np.array(centre, float), np.eye(3), *corners, 12, ("closed",))
    return Element(name, series, None, side, "scanned", SOURCE, solid, np.eye(4))


@pytest.fixture
def animal(rng) -> list[Element]:
    """Nine pairs and six vertebrae, mirrored at y = 0.2."""
    found = []
    for k, (x, y, z) in enumerate(rng.uniform(0.3, 2, (9, 3))):
        found += [element(f"Bone {k}.L", "left", (x, 0.2 + y, z)), element(f"Bone {k}.R", "right", (x, 0.2 - y, z))]
    return found + [element(f"V{k}", "middle", (k, 0.2, 1 + 0.1 * k), "dorsal") for k in range(6)]


def test_an_even_skeleton_is_mirrored_at_its_own_plane(animal):
    plane = find_mirror_plane(animal)
    np.testing.assert_allclose(plane.normal, (0, 1, 0), atol=1e-12)
    assert plane.offset_m == pytest.approx(0.2, abs=1e-12)
    assert (plane.pairs, plane.middles) == (9, 6)
    assert plane.residual_m < 1e-12


def test_the_plane_goes_with_the_skeleton(animal):
    X = make_transform(Rotation.from_euler("xyz", (0.4, -0.3, 0.9)).as_matrix(), (3.0, -1.0, 0.5))
    turned = find_mirror_plane([replace(own, X_WE=X) for own in animal])
    np.testing.assert_allclose(turned.normal, X[:3, 1], atol=1e-12)
    still = find_mirror_plane(animal)
    np.testing.assert_allclose(turned.X_WW, X @ still.X_WW @ np.linalg.inv(X), atol=1e-12)


def test_who_stands_elsewhere_has_no_say(animal):
    """A leg put forward, a neck bent aside, a pair in each other's place: the rest say where the plane is."""
    wrong = {"Bone 2.L": (0.6, 0.1, 0.3), "V5": (0.0, 0.8, 0.0)}
    moved = [replace(own, X_WE=make_transform(np.eye(3), wrong.get(own.name, (0, 0, 0)))) for own in animal]
    names = {"Bone 4.L": "Bone 4.R", "Bone 4.R": "Bone 4.L"}
    moved = [replace(own, name=names.get(own.name, own.name)) for own in moved]
    plane = find_mirror_plane(moved)
    np.testing.assert_allclose(plane.normal, (0, 1, 0), atol=1e-6)
    assert plane.offset_m == pytest.approx(0.2, abs=1e-6)


def test_unevenness_is_told(animal, rng):
    noise = {own.name: rng.normal(0, 0.01, 3) for own in animal}
    plane = find_mirror_plane([replace(own, X_WE=make_transform(np.eye(3), noise[own.name])) for own in animal])
    assert 0.005 < plane.residual_m < 0.04
    assert plane.normal @ (0, 1, 0) > np.cos(np.radians(1.5))
    assert "9 left-right pairs and 6 of the mid-line" in plane.describe()


def test_without_a_pair_left_is_the_worlds_y(animal):
    plane = find_mirror_plane([own for own in animal if own.side != "left"])
    np.testing.assert_array_equal(plane.normal, (0, 1, 0))
    assert plane.offset_m == pytest.approx(0.2)
    assert plane.residual_m is None
    assert "there is no left-right pair" in plane.describe()


def test_one_pair_is_enough(animal):
    plane = find_mirror_plane(animal[:2])
    np.testing.assert_allclose(plane.normal, (0, 1, 0), atol=1e-12)
    assert plane.offset_m == pytest.approx(0.2)
