"""The worst of joints and beams under what acts: by solving every combination on its own."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from core_calcs.build.materials import default_build
from core_calcs.site.actions import Factors, Footing, PointAction, Wind
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.kinematics import move_elements, place_elements
from core_calcs.statics.cuts import PointForces
from core_calcs.studies.acting import list_acting
from core_calcs.studies.assess import assess_prepared, find_supports, place_contacts, prepare
from core_calcs.studies.beams import find_beams
from core_calcs.studies.loads import load_joints, solve_carried
from core_calcs.studies.worst_loads import TIPS, UNKNOWN

FACTORS = {"characteristic": (1.0, 1.0, 1.0), "design": (1.0, 1.35, 1.5)}


@pytest.fixture(scope="module")
def standing(random_skeletons):
    """A skeleton of 40 bodies on feet, its pose, and a site where two hands push a little and somebody sits."""
    rng = np.random.default_rng(11)
    anywhere = Site(contact_tolerance_m=1e3, directions=4)
    while True:
        skeleton = random_skeletons.make_random_skeleton(40, rng, 6)
        pose = random_skeletons.make_random_pose(skeleton, rng)
        prepared = prepare(skeleton, default_build())
        found = assess_prepared(prepared, pose, anywhere)
        if found.distance_margin_m is not None and found.distance_margin_m > 0.1:
            break
    force = 0.004 * found.mass_kg * GRAVITY
    names = [element.name for element in skeleton.elements]
    actions = (
        PointAction("one", "push", names[39], (0.1, 0, 0), force),
        PointAction("other", "pull", names[20], (0, 0.1, 0), force, (0.6, 0.0, 0.8)),
        PointAction("sits", "person", names[30], (0, 0, 0.1), 2 * force),
    )
    return prepared, pose, replace(anywhere, actions=actions)


def carry(prepared, pose, site, permanent, parts):
    """The loads of all joints in one combination, as `solve_carried` has them for the weight alone and these forces."""
    motions = move_elements(prepared.skeleton, prepared.movers, pose)
    bodies, contacts = prepared.bodies, place_contacts(prepared, motions, site, ())[1]
    centres = (motions[:, :3, :3] @ bodies.centre_m[:, :, None])[:, :, 0] + motions[:, :3, 3]
    about = bodies.mass_kg @ centres / bodies.mass_kg.sum()
    forces = None
    if parts:
        columns = [(f * own.forces_N[way] / permanent, own.points_m[way], own.bodies) for own, way, f in parts]
        forces = PointForces(*map(np.concatenate, zip(*columns, strict=True)))
    supports = find_supports(prepared, site)
    carried = solve_carried(prepared, centres, about, contacts, 0.1, (), forces, supports)
    return load_joints(prepared, motions, carried)


def write_out(prepared, pose, site, level):
    """The greatest of every figure at every joint over all combinations, each solved."""
    actions = list_acting(prepared.skeleton, place_elements(prepared.skeleton, pose), site).actions
    least, most, variable = FACTORS[level]
    best = {}
    for leading, ways in product(range(len(actions)), product(*(range(-1, len(a.directions)) for a in actions))):
        shares = [variable * (1.0 if a == leading else 0.7) for a in range(len(actions))]
        parts = [(actions[a], way, shares[a]) for a, way in enumerate(ways) if way >= 0]
        for permanent in {least, most}:
            for load in carry(prepared, pose, site, permanent, parts):
                values = {
                    "tension": load.axial_N, "compression": -load.axial_N, "shear": np.hypot(*load.shear_N),
                    "torsion": abs(load.torsion_Nm), "bending": np.hypot(*load.bending_Nm),
                }  # fmt: skip
                for figure, value in values.items():
                    key = (load.child, figure)
                    best[key] = max(best.get(key, -np.inf), permanent * float(value))
    return best


@pytest.mark.parametrize("level", ["characteristic", "design"])
def test_the_worst_of_every_joint_by_brute_force(standing, level):
    """Exact where no foot stands beyond; between feet short by 7 % of the joint's greatest force or moment at most."""
    prepared, pose, site = standing
    found = [own for own in assess_prepared(prepared, pose, site, with_worst=True).acted.joints if own.level == level]
    assert len(found) == 5 * 39
    expected = write_out(prepared, pose, site, level)
    shared = {load.child for load in assess_prepared(prepared, pose, site).joints if load.force_range_N is not None}
    assert 3 < len(shared) < 36
    weight = prepared.bodies.mass_kg.sum() * GRAVITY
    for own in found:
        most = expected[own.joint, own.figure]
        assert own.value_N_or_Nm <= most + 1e-9 * weight
        kind = ("torsion", "bending") if own.figure in ("torsion", "bending") else ("tension", "compression", "shear")
        size = max(abs(expected[own.joint, figure]) for figure in kind)
        tolerance = 0.07 * size if own.joint in shared else 1e-9 * weight
        assert own.value_N_or_Nm >= most - tolerance, (own.joint, own.figure)


def test_every_value_is_that_of_its_combination(standing):
    """Its parts solved anew give the load that stands beside it."""
    prepared, pose, site = standing
    actions = {
        own.name: own for own in list_acting(prepared.skeleton, place_elements(prepared.skeleton, pose), site).actions
    }
    found = assess_prepared(prepared, pose, site, with_worst=True).acted.joints
    index = {joint.child: i for i, joint in enumerate(prepared.skeleton.joints)}
    for own in found[::7]:
        parts = []
        for part in own.parts:
            action = actions[part.action]
            way = int(np.argmin(np.linalg.norm(action.directions - part.direction, axis=1)))
            parts.append((action, way, part.factor))
        load = carry(prepared, pose, site, own.permanent, parts)[index[own.joint]]
        got = own.permanent * np.array([load.axial_N, *load.shear_N, load.torsion_Nm, *load.bending_Nm])
        np.testing.assert_allclose(own.load, got, rtol=1e-9, atol=1e-6)


def test_a_beam_reads_the_same_loads_along_its_own_axes(box_document):
    """Under self-weight alone force and moment are of one size along whichever axes, times one factor."""
    document = box_document[0]
    prepared = prepare(document.skeleton, document.build)
    found = assess_prepared(prepared, document.poses[0], Site(), with_worst=True)
    joints = {load.child: load for load in found.joints}
    assert len({own.chain for own in found.acted.beams}) > 1
    for own in found.acted.beams:
        load = joints[own.joint]
        assert np.linalg.norm(own.load[:3]) == pytest.approx(own.permanent * np.linalg.norm(load.force_N), rel=1e-9)
        assert np.linalg.norm(own.load[3:]) == pytest.approx(own.permanent * np.linalg.norm(load.moment_Nm), rel=1e-9)
    beams = {beam.name: beam for beam in find_beams(document.skeleton, found)}
    for own in found.acted.beams:
        beam = beams[own.chain]
        k = beam.joints.index(own.joint)
        expected = [beam.axial_N[k], *beam.shear_N[k], beam.torsion_Nm[k], *beam.bending_Nm[k]]
        np.testing.assert_allclose(own.load, own.permanent * np.array(expected), rtol=1e-9, atol=1e-9)


def test_self_weight_alone_has_its_factor(standing):
    prepared, pose, site = standing
    found = assess_prepared(prepared, pose, replace(site, actions=()), with_worst=True)
    plain = {load.child: np.hypot(*load.bending_Nm) for load in found.joints}
    for own in found.acted.joints:
        if own.figure == "bending":
            factor = {"characteristic": 1.0, "design": 1.35}[own.level]
            assert own.value_N_or_Nm == pytest.approx(factor * plain[own.joint], rel=1e-9)
            assert (own.leading, own.parts) == ("", ())


def test_where_the_feet_keep_no_equilibrium_it_is_not_known(standing):
    """As much as the weight pushes: free branches have their figures, what lies between feet has none, unless held."""
    prepared, pose, site = standing
    push = replace(site.actions[0], force_N=prepared.bodies.mass_kg.sum() * GRAVITY)
    tipped = replace(site, actions=(push,))
    found = assess_prepared(prepared, pose, tipped, with_worst=True).acted.joints
    missing = {own.joint for own in found if own.value_N_or_Nm is None}
    assert missing
    assert all(own.missing == TIPS for own in found if own.value_N_or_Nm is None)
    assert any(own.joint not in missing for own in found)
    held = tuple(Footing(foot.name, anchored=True) for foot in prepared.skeleton.feet)
    found = assess_prepared(prepared, pose, replace(tipped, footings=held), with_worst=True).acted.joints
    assert all(own.value_N_or_Nm is not None for own in found)


def test_nothing_is_told_where_the_wind_is_not_known(standing):
    prepared, pose, site = standing
    acted = assess_prepared(prepared, pose, replace(site, wind=Wind(500.0)), with_worst=True).acted
    assert (acted.joints, acted.beams) == ((), ())
    assert acted.missing == ("wind: the elements' surfaces, which its silhouettes are taken from",)


def test_without_feet_what_lies_between_is_not_known(standing):
    prepared, pose, site = standing
    nowhere = replace(site, ground_m=-1e6, contact_tolerance_m=0.0)
    found = assess_prepared(prepared, pose, nowhere, with_worst=True).acted.joints
    assert {own.missing for own in found if own.value_N_or_Nm is None} == {UNKNOWN}
    assert any(own.value_N_or_Nm is not None for own in found)


def test_factors_are_those_of_the_site(standing):
    prepared, pose, site = standing
    found = [
        {(own.joint, own.level, own.figure): own for own in assess_prepared(
            prepared, pose, replace(site, factors=factors), with_worst=True).acted.joints}
        for factors in (Factors(), Factors(reduction=0.85), Factors(strength_variable=3.0))
    ]  # fmt: skip
    for key, own in found[0].items():
        if own.parts and key[1] == "design" and own.value_N_or_Nm > 0:
            assert found[1][key].expression in ("6.10a", "6.10b")
            assert found[1][key].value_N_or_Nm <= own.value_N_or_Nm * (1 + 1e-2)
    raised = [key for key, own in found[0].items() if found[2][key].value_N_or_Nm > own.value_N_or_Nm + 1.0]
    assert raised
    assert all(key[1] == "design" for key in raised)
