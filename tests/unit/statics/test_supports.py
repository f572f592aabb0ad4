"""What is under every foot."""

from __future__ import annotations

import numpy as np

from core_calcs.site.actions import Footing
from core_calcs.statics.supports import list_supports


def test_nothing_named_is_level_equally_stiff_and_free():
    found = list_supports(["a", "b"])
    np.testing.assert_array_equal(found.height_m, [0, 0])
    assert found.stiffness[0] == found.stiffness[1]
    assert np.isnan(found.friction).all()
    assert not found.anchored.any()
    assert np.isnan(found.anchor_N).all()


def test_footings_speak_for_their_feet_and_the_site_for_the_rest():
    footings = [Footing("b", height_m=0.2, stiffness_N_m=2e6, anchored=True, anchor_N=3e3), Footing("c", friction=0.3)]
    found = list_supports(["a", "b", "c"], [*footings, Footing("d", stiffness_N_m=4e6)], 0.5)
    np.testing.assert_array_equal(found.height_m, [0, 0.2, 0])
    # Those that name none are as stiff as those that do.
    np.testing.assert_array_equal(found.stiffness, [2e6, 2e6, 2e6])
    np.testing.assert_array_equal(found.friction, [0.5, 0.5, 0.3])
    np.testing.assert_array_equal(found.anchored, [False, True, False])
    np.testing.assert_array_equal(found.anchor_N, [np.nan, 3e3, np.nan])


def test_the_tension_of_a_foot_that_is_not_anchored_is_none():
    assert np.isnan(list_supports(["a"], [Footing("a", anchor_N=5.0)]).anchor_N).all()
