"""Joints of made-up pairs of bones: the family, its centre and its axes, from where the bones face each other alone."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.families import choose_family
from core_calcs.articulation.limb_facets import find_cores, looks_outwards

HINGES = ("cylinder", "pulley", "condyles")
FAMILIES = {
    "ball": "ball",
    "cylinder": "revolution",
    "pulley": "revolution",
    "condyles": "revolution",
    "saddle": "saddle",
}
STANDS_OUT = {"ball": "child", **dict.fromkeys(HINGES, "parent")}


def find_family(pair):
    facings = [find_cores(pair.parent, pair.child), find_cores(pair.child, pair.parent)]
    facings.sort(key=looks_outwards)
    return choose_family(facings[1], facings[0])


def degrees_between(first, second):
    return np.degrees(np.arccos(min(1.0, abs(float(first @ second)))))


@pytest.fixture(scope="module", params=[(kind, seed) for kind in FAMILIES for seed in (0, 1, 2)], ids=str)
def joint(request, limbs):
    kind, seed = request.param
    pair = limbs.make_pair(kind, seed)
    return kind, pair, find_family(pair)


def test_the_family_is_found_on_the_bone_that_stands_out(joint):
    kind, _, found = joint
    assert found.fit.shape == FAMILIES[kind]
    assert found.objections == ()
    assert len(found.pieces) == (2 if kind == "condyles" else 1)
    if kind in STANDS_OUT:
        assert found.on.bone.name == STANDS_OUT[kind]
        assert found.fit.convex


def test_centre_and_axes_are_those_it_was_made_with(joint):
    """The radius is 1: centre within .02, axis within 1°."""
    kind, pair, found = joint
    if kind == "ball":
        assert np.linalg.norm(found.fit.centre - pair.centre) < 0.02
        return
    for axis, place in zip(found.fit.axes, found.fit.places, strict=True):
        k = int(np.argmax(np.abs(pair.axes @ axis)))
        apart = place - pair.places[k]
        assert degrees_between(axis, pair.axes[k]) < 1.0
        assert np.linalg.norm(apart - pair.axes[k] * (apart @ pair.axes[k])) < 0.02


def test_the_uncertainties_bound_what_it_is_off(joint):
    kind, pair, found = joint
    if kind == "ball":
        assert np.linalg.norm(found.fit.centre - pair.centre) < 3 * found.centre_uncertainty
    elif kind != "saddle":
        assert degrees_between(found.fit.axes[0], pair.axes[0]) < 3 * np.degrees(found.axis_uncertainty)


@pytest.mark.parametrize("seed", range(3))
def test_an_egg_that_is_round_about_two_axes_apart_is_ambiguous(limbs, seed):
    found = find_family(limbs.make_pair("egg", seed))
    assert len(found.objections) == 1
    assert "fits as well" in found.objections[0] or "fit as well" in found.objections[0]


def test_flat_faces_are_ambiguous(limbs):
    pair = limbs.make_flat_pair()
    found = find_family(pair)
    assert found.fit is None or np.degrees(found.fit.arcs[0]) < 20
    assert found.objections


def test_bones_far_apart_have_no_facets(limbs):
    pair = limbs.make_flat_pair(gap=3.0)
    assert find_cores(pair.parent, pair.child) is None
