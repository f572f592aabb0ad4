"""The support of a pose in space; margins by direction against shapely's boundary and the least margin."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely import LineString, Polygon

from core_calcs.document.document import SkeletonDocument
from core_calcs.studies.assess import assess
from core_calcs.studies.support import place_corners


@pytest.fixture(params=[0, 1])
def studied(box_document: tuple[SkeletonDocument, Path], request: pytest.FixtureRequest):
    document = box_document[0]
    return document, assess(document.skeleton, document.poses[request.param], document.build, document.site)


def test_distances_are_those_to_the_boundary(studied) -> None:
    _, found = studied
    rose, polygon = found.balance.rose, Polygon(found.support_polygon_m)
    assert len(rose.azimuth_rad) == 72
    start = found.centre_m[:2]
    for azimuth, distance in zip(rose.azimuth_rad, rose.distance_m, strict=True):
        ray = LineString([start, start + 100 * np.array([np.cos(azimuth), np.sin(azimuth)])])
        assert distance == pytest.approx(ray.intersection(polygon).length, rel=1e-9)


def test_none_tips_sooner_than_the_nearest_edge(studied) -> None:
    _, found = studied
    rose = found.balance.rose
    assert rose.tip_angle_rad.min() >= found.tip_angle_rad * (1 - 1e-12)
    assert rose.tip_angle_rad.min() == pytest.approx(found.tip_angle_rad, rel=0.01)


def test_corners_lie_on_the_ground_under_their_feet(studied) -> None:
    document, found = studied
    corners = place_corners(found, document.site)
    np.testing.assert_array_equal(corners[:, :2], found.support_polygon_m)
    np.testing.assert_array_equal(corners[:, 2], document.site.ground_m)
    raised = tuple(
        replace(foot, centre_m=foot.centre_m + np.array([0, 0, 0.2])) if foot.foot.startswith("fore") else foot
        for foot in found.feet
    )
    uneven = place_corners(replace(found, feet=raised), document.site)
    assert sorted(set(uneven[:, 2].round(9))) == [0.0, 0.2]
    assert (uneven[uneven[:, 2] > 0.1, 0] > 0.5).all(), "the fore feet stand in front"
