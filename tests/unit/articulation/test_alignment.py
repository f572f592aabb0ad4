"""One surface laid upon another: the motion or reflection that was made is found again."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core_calcs.articulation.alignment import align, list_starts
from core_calcs.mesh.survey import survey_body
from core_calcs.mesh.transformed import transform_surface
from core_calcs.spatial.transforms import make_transform

MIRROR = np.diag([1.0, -1.0, 1.0, 1.0])


@pytest.fixture(scope="module")
def bone(shapes):
    """A shaft with a bent end and a knob: no two views of it are the same."""
    turn = Rotation.from_euler("xyz", (0.3, 0.5, 0.2)).as_matrix()
    parts = [
        shapes.make_box((1.0, 0.25, 0.2), (0, 0, 0)),
        shapes.make_box((0.4, 0.2, 0.3), (0.55, 0.1, 0.1), turn),
        shapes.make_box((0.2, 0.2, 0.15), (-0.4, -0.15, 0.1)),
    ]
    return shapes.join(*parts)


def test_a_small_misfit_is_taken_back_exactly(bone):
    X = make_transform(Rotation.from_euler("xyz", (0.1, -0.08, 0.12)).as_matrix(), (0.02, -0.03, 0.01))
    found = align(bone, transform_surface(bone, X), [np.eye(4)])
    np.testing.assert_allclose(found.X, X, atol=1e-6)
    assert found.residual_m < 1e-6


@pytest.mark.parametrize("angles", [(0.6, 0.4, -0.8), (2.5, 0.2, 1.0)])
def test_a_mirrored_bone_is_laid_upon_its_partner_however_that_is_mounted(bone, angles):
    mounted = make_transform(Rotation.from_euler("xyz", angles).as_matrix(), (0.5, 1.0, -2.0))
    partner = transform_surface(bone, mounted @ MIRROR)
    (_, one), (_, other) = survey_body(bone), survey_body(partner)
    starts = list_starts((one.centre_m, other.centre_m), (one.inertia_m5, other.inertia_m5), MIRROR)
    found = align(bone, partner, starts)
    assert np.linalg.det(found.X[:3, :3]) == pytest.approx(-1)
    np.testing.assert_allclose(found.X, mounted @ MIRROR, atol=1e-6)


def test_what_is_not_alike_is_told_to_be_off(bone, shapes):
    other = shapes.make_box((0.5, 0.5, 0.5))
    assert align(bone, other, [np.eye(4)]).residual_m > 0.02
