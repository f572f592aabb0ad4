"""Base force and moment about other points than the site's."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from core_calcs.build.materials import default_build
from core_calcs.site.site import Site
from core_calcs.skeleton.pose import Pose
from core_calcs.studies.assess import assess_prepared, prepare
from core_calcs.studies.base import move_base


def test_moved_base_is_that_of_a_site_with_that_datum(random_skeletons, rng):
    prepared = prepare(random_skeletons.make_random_skeleton(20, rng, 4), default_build())
    site = Site(contact_tolerance_m=1e3)
    found = assess_prepared(prepared, Pose("p"), site)
    points = rng.normal(size=(6, 3)) * 3
    forces, moments = move_base(found, points)
    for point, force, moment in zip(points, forces, moments, strict=True):
        other = assess_prepared(prepared, Pose("p"), replace(site, datum_m=tuple(point.tolist())))
        np.testing.assert_allclose(force, other.base_force_N, rtol=1e-12)
        np.testing.assert_allclose(moment, other.base_moment_Nm, rtol=0, atol=1e-10 * abs(found.base_force_N[2]))
