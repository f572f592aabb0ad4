"""What elements weigh."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.build.build import Build, Material
from core_calcs.build.weights import weigh_elements
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.errors import SkeletonError

BUILD = Build(Material("made up", 8000.0, 100.0, "made up"))


def test_box_turned_and_moved(random_skeletons, rng):
    """Closed form: a box's inertia turns with it, its mass does not."""
    half = np.array([0.2, 0.15, 0.1])
    solid = random_skeletons.make_solid(float(8 * half.prod()), np.array([1.0, 2.0, 3.0]), half)
    R = random_skeletons.make_rotation(rng)
    X = np.eye(4)
    X[:3, :3], X[:3, 3] = R, [5, 6, 7]
    weights = weigh_elements(build_skeleton("s", (random_skeletons.make_element("box", solid, X),), ()), BUILD)
    m = 8000 * 0.024
    a, b, c = 2 * half
    assert weights.mass_kg[0] == pytest.approx(m)
    np.testing.assert_allclose(weights.centre_m[0], R @ [1, 2, 3] + [5, 6, 7])
    inertia = m / 12 * np.diag([b * b + c * c, c * c + a * a, a * a + b * b])
    np.testing.assert_allclose(weights.inertia_kg_m2[0], R @ inertia @ R.T, atol=1e-12)


def test_uncertainty_covers_the_worst_of_volume_and_density(random_skeletons):
    solid = replace(random_skeletons.make_solid(0.01, np.zeros(3), np.ones(3)), volume_error_m3=0.002)
    weights = weigh_elements(build_skeleton("s", (random_skeletons.make_element("e", solid, np.eye(4)),), ()), BUILD)
    assert weights.mass_kg[0] + weights.uncertainty_kg[0] == pytest.approx(8100 * 0.012)


@pytest.mark.parametrize("fault", [{"volume_m3": -1.0}, {"volume_error_m3": np.inf}, {"centre_m": np.full(3, np.nan)}])
def test_improper_measures_are_refused(random_skeletons, fault):
    solid = replace(random_skeletons.make_solid(0.01, np.zeros(3), np.ones(3)), **fault)
    skeleton = build_skeleton("s", (random_skeletons.make_element("faulty", solid, np.eye(4)),), ())
    with pytest.raises(SkeletonError, match="faulty"):
        weigh_elements(skeleton, BUILD)
