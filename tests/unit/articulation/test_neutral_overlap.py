"""Limits of made-up joints whose bones overlap at neutral: what it would be without that, and nothing let through."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.limits import find_limits
from core_calcs.articulation.partner import prepare_partner
from core_calcs.mesh.surface import Surface
from core_calcs.skeleton.joint import LimitSettings

STRICT = LimitSettings(overlap_share=0.0, contact_share_s=0.01, slide_share_s=0.0, gap_share_s=100.0)
USUAL = LimitSettings(overlap_share=0.0, gap_share_s=100.0)
FRAME = np.array([[1.0, 0, 0, 0], [0, 0, -1, 0], [0, 1, 0, 0], [0, 0, 0, 1]])
"""The child's long axis, y, is the world's z; of size 1 all shares are metres."""


def make_partner(name, mesh, shift=0.0):
    vertices = np.array(mesh.vertices, float) + np.array([0.0, 0.0, shift])
    return prepare_partner(name, Surface(vertices, np.array(mesh.faces, np.int64)), 1.0, vertices.mean(axis=0))


def reach(joint, settings=STRICT):
    """(3, 2) how far the joint goes about each of its axes [rad]."""
    limits = find_limits(*joint, (), FRAME, (1, 1, 1), settings)
    return np.array([[-limit.low.angle_rad, limit.high.angle_rad] for limit in limits])


@pytest.fixture(scope="module")
def fitting(sockets):
    return make_partner("socket", sockets.make_socket()), make_partner("ball", sockets.make_ball())


OVERLAPPING = {
    "a ball too large by .02": (0.37, 0.39, 0.0),
    "a ball too large by .05": (0.37, 0.42, 0.0),
    "a socket too tight by .05": (0.31, 0.36, 0.0),
    "placed too deep by .02": (0.37, 0.36, -0.03),
    "placed too deep by .05": (0.37, 0.36, -0.06),
}
"""Radii of socket and ball, and how far the ball is moved into the socket."""


@pytest.fixture(scope="module", params=OVERLAPPING)
def overlapping(request, sockets):
    socket, ball, shift = OVERLAPPING[request.param]
    return (
        make_partner("socket", sockets.make_socket(socket)),
        make_partner("ball", sockets.make_ball(ball), shift),
    )


def test_a_ball_that_fits_turns_until_its_neck_meets_the_rim(fitting, sockets):
    turns = np.degrees(reach(fitting)[:2])
    assert turns == pytest.approx(np.degrees(sockets.reach_rad()), abs=3.0)  # of which the allowance makes 2
    assert np.degrees(reach(fitting)[2]) == pytest.approx(60.0)  # nothing in the way


@pytest.mark.parametrize("settings", [STRICT, USUAL])
def test_a_ball_that_overlaps_its_socket_turns_as_far(overlapping, fitting, settings):
    """Forgiven at the same points of the ball alone it would stop at 23 to 40°: other parts come into its bed."""
    turns, true = np.degrees(reach(overlapping, settings)), np.degrees(reach(fitting, settings))
    assert turns == pytest.approx(true, abs=4.0)


def test_tighter_settings_narrow_an_overlapping_joint_and_never_widen_it(overlapping):
    rng = np.random.default_rng(3)
    for _ in range(3):
        contact, slide = rng.uniform(0.005, 0.04), rng.uniform(0.0, 0.05)
        loose = LimitSettings(0.0, contact, slide, 100.0)
        tight = LimitSettings(0.0, contact * rng.uniform(0.2, 1.0), slide * rng.uniform(0.0, 1.0), 100.0)
        assert (reach(overlapping, tight) <= reach(overlapping, loose)).all()


@pytest.mark.parametrize("depth", [0.0, 0.03, 0.05])
def test_what_interlocks_still_stops(sockets, depth):
    """A tongue in a groove, pressed into its floor: about the upright axis its corners meet the walls."""
    play = 0.05
    joint = make_partner("groove", sockets.make_groove(play)), make_partner("tongue", sockets.make_tongue(), -depth)
    angles = np.radians(np.arange(0, 30, 0.01))
    aside = 0.5 * np.sin(angles) + 0.1 * np.cos(angles) - 0.1
    expected = np.degrees(angles[np.argmax(aside > play + STRICT.contact_share_s)])
    assert np.degrees(reach(joint)[2]) == pytest.approx(expected, abs=1.0)
