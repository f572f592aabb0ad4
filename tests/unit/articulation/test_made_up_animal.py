"""Joints of made-up vertebrae whose facets and centres are known, because they were made so (demo_blend/strider).

They were made after the finder was finished, and nothing of it was changed on their account.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[3] / "demo_blend"))
from strider.animal import make_vertebra_mesh, name_vertebra
from strider.column import Vertebra, plan_column

from core_calcs.articulation.column import column_axes
from core_calcs.articulation.column_joint import find_column_joint
from core_calcs.articulation.facets import find_facets
from core_calcs.articulation.frames import column_frame
from core_calcs.articulation.limits import prepare_coverings
from core_calcs.articulation.partner import Partner, prepare_partner
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body
from core_calcs.skeleton.joint import LimitSettings

PAIRS = ("cervical 5", "dorsal 6", "dorsal 12", "sacrum", "caudal 9", "caudal 29", "caudal 38")
"""The headward of each pair: balls and cotyles, flat ends, a large and a small neighbour, ends alone."""


def prepare(vertebra: Vertebra) -> Partner:
    surface, solid = survey_body(Surface(*make_vertebra_mesh(vertebra, seed=7, detail=1.0)))
    return prepare_partner(name_vertebra(vertebra), surface, solid.volume_m3, solid.centre_m)


@pytest.fixture(scope="module", params=PAIRS)
def pair(request):
    column = plan_column()
    at = [name_vertebra(vertebra) for vertebra in column].index(request.param)
    return column[at].tail, prepare(column[at]), prepare(column[at + 1])


def test_facets_lie_where_they_were_made(pair):
    """Every facet within .05 s of its true centre, s the size of the smaller element; none missed, none made up."""
    joint, headward, tailward = pair
    found = find_facets(headward, tailward, column_axes(headward.centre, tailward.centre))
    size = min(headward.size, tailward.size)
    assert found.confidence == "found"
    assert len(found.pairs) == (1 if joint.facet_m is None else 3)
    for both in found.pairs:
        for patch, is_tailward in zip(both, (False, True), strict=True):
            if patch.kind != "centrum":
                side = 1 if patch.kind.startswith("left") else -1
                truth = joint.facet_centre(side, is_tailward)
                # The grid that the meshes are made on rounds a disc's rim by a quarter of its radius.
                assert 0.5 < patch.as_facet().area_m2 / (np.pi * joint.facet_radius_m**2) < 1.2
            elif joint.ball_radius_m is None:
                truth = joint.plate_centre(is_tailward)
            else:
                continue  # a ball has a centre, not a plate's middle: below
            assert np.linalg.norm(patch.as_facet().centroid_m - truth) < 0.05 * size


def test_the_joint_turns_about_its_true_centre(pair):
    """The middle of the disc between flat ends; where there is a ball, its centre, within .02 of its radius."""
    joint, headward, tailward = pair
    axes = column_axes(headward.centre, tailward.centre)
    size = min(headward.size, tailward.size)
    found = find_facets(headward, tailward, axes)
    frame = column_frame(*found.centrum, axes, False, size)  # the headward is the parent
    off = np.linalg.norm(frame.X_WJ[:3, 3] - joint.X_WJ[:3, 3])
    assert off < (0.02 * joint.ball_radius_m if joint.ball_radius_m else 0.02 * size)
    assert ("condyle" in frame.how) == (joint.ball_radius_m is not None)


def test_a_disc_between_round_ends_stops_turn_and_bending_where_geometry_says():
    """Round plates of known radius R and gap g, nothing else near: two of the last tail vertebrae.

    Axial: the rim (95 % of the area inside) is pulled aside by 2 r sin θ/2, at most the gap setting. Bending: the rim
    runs in at R sin θ = g + contact + slide.
    """
    column = plan_column()
    at = [name_vertebra(vertebra) for vertebra in column].index("caudal 38")
    headward, tailward, settings = prepare(column[at]), prepare(column[at + 1]), LimitSettings()
    axes = column_axes(headward.centre, tailward.centre)
    limits = find_column_joint(headward, tailward, axes, False, settings).limits
    size, shape, gap = min(headward.size, tailward.size), column[at + 1].shape, column[at].tail.gap_m
    radii = shape.height / 2, shape.breadth / 2
    axial = np.degrees(2 * np.arcsin(settings.gap_share_s * size / 2 / (np.mean(radii) * np.sqrt(0.95))))
    free = gap + (settings.contact_share_s + settings.slide_share_s) * size
    for stop in (limits[2].low, limits[2].high):
        assert stop.reason == "gap"
        assert abs(np.degrees(stop.angle_rad)) == pytest.approx(axial, abs=1.5)
    for limit, radius in zip(limits, radii, strict=False):
        for stop in (limit.low, limit.high):
            assert stop.reason == "bone contact"  # on surfaces as uneven as the gap is wide
            assert abs(np.degrees(stop.angle_rad)) == pytest.approx(np.degrees(np.arcsin(free / radius)), abs=2.0)


def test_a_ball_in_its_cotyle_is_not_held_by_a_disc(pair):
    joint, headward, tailward = pair
    found = find_facets(headward, tailward, column_axes(headward.centre, tailward.centre))
    coverings = prepare_coverings(found.pairs, min(headward.size, tailward.size))
    assert coverings[0].bound == (joint.ball_radius_m is None)
    assert not any(covering.bound for covering in coverings[1:])
