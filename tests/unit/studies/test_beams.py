"""Chains of a skeleton as beams: which joints they have, in which sense, and what is not known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.build.materials import default_build
from core_calcs.site.site import Site
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.assess import assess
from core_calcs.studies.beams import find_beams, list_beam_joints
from core_calcs.studies.posing import prepare_posing
from tests.made_up_walker import make_walker
from tests.unit.box_beast import make_box_document


@pytest.fixture(scope="module")
def beast(tmp_path_factory):
    document, _ = make_box_document(tmp_path_factory.mktemp("beast"))
    found = assess(document.skeleton, document.poses[0], document.build, document.site)
    return document.skeleton, found


def test_chains_of_a_whole_skeleton(beast):
    beams = {beam.name: beam for beam in find_beams(*beast)}
    assert list(beams)[:3] == ["neck", "trunk", "tail"]
    assert set(beams) == {"neck", "trunk", "tail", "hind leg L", "fore leg L", "hind leg R", "fore leg R"}
    assert beams["neck"].elements == (*(f"cervical {i}" for i in range(5, 0, -1)), "skull")
    assert beams["trunk"].elements == tuple(f"dorsal {i}" for i in range(6, 0, -1))
    assert beams["tail"].elements == tuple(f"caudal {i}" for i in range(1, 11))
    assert all(beam.station_m[0] == 0 and (np.diff(beam.station_m) > 0).all() for beam in beams.values())


def test_wrenches_are_those_of_the_joints(beast):
    skeleton, found = beast
    loads = {load.child: load for load in found.joints}
    for beam in find_beams(skeleton, found):
        force = np.column_stack([beam.axial_N, beam.shear_N])
        moment = np.column_stack([beam.torsion_Nm, beam.bending_Nm])
        for k, child in enumerate(beam.joints):
            sign = 1 if beam.elements[k] == child else -1
            np.testing.assert_allclose(sign * force[k] @ beam.axes[k], loads[child].force_N, atol=1e-9)
            np.testing.assert_allclose(sign * moment[k] @ beam.axes[k], loads[child].moment_Nm, atol=1e-9)
            assert beam.shared[k] == (loads[child].moment_range_Nm is not None)
        np.testing.assert_allclose(beam.resultant_bending_Nm, np.linalg.norm(beam.bending_Nm, axis=1))
        np.testing.assert_allclose(beam.resultant_shear_N, np.linalg.norm(beam.shear_N, axis=1))


def test_neck_and_tail_hang_down_and_what_the_feet_share_is_told(beast):
    beams = {beam.name: beam for beam in find_beams(*beast)}
    for name in ("neck", "tail"):
        beam = beams[name]
        assert (beam.bending_Nm[:, 0] > 0).all()
        assert (np.diff(beam.bending_Nm[:, 0]) < 0).all()
        assert (beam.shear_N[:, 1] < 0).all()
        assert not beam.shared.any()
    assert beams["trunk"].shared.all() == beams["trunk"].shared.any()


def make_column(random_skeletons, root):
    """Caudal 3 … 1, sacrum, dorsals, cervicals, skull in a row along x, the tree rooted in one of them."""
    rows = [("caudal", 3), ("caudal", 2), ("caudal", 1), ("sacral", 1), ("dorsal", 2), ("dorsal", 1)]
    rows += [("cervical", 2), ("cervical", 1), ("skull", 1)]
    names = [f"{series} {k}" for series, k in rows]
    elements = []
    for at, (series, _) in enumerate(rows):
        solid = random_skeletons.make_solid(0.01 * (1 + at), np.zeros(3), np.full(3, 0.3))
        own = random_skeletons.make_element(
            names[at], solid, make_transform(np.eye(3), [at, 0, 2 + 0.1 * at * (at - 4)])
        )
        elements.append(replace(own, series=series))
    start, joints = names.index(root), []
    for at in range(len(rows) - 1):
        parent, child = (at, at + 1) if at >= start else (at + 1, at)
        middle = (elements[at].X_WE[:3, 3] + elements[at + 1].X_WE[:3, 3]) / 2
        joints.append(random_skeletons.make_joint(names[parent], names[child], make_transform(np.eye(3), middle)))
    return build_skeleton("row", tuple(elements), tuple(joints))


def test_sense_does_not_hang_on_the_root(random_skeletons):
    """Wherever the tree begins, the chains, their direction and axes are the same."""
    beams = []
    for root in ("sacral 1", "dorsal 1", "caudal 1", "cervical 2", "skull 1", "caudal 3"):
        skeleton = make_column(random_skeletons, root)
        beams.append({b.name: b for b in find_beams(skeleton, assess(skeleton, Pose("p"), default_build(), Site()))})
    for other in beams[1:]:
        assert set(other) == set(beams[0]) == {"neck", "trunk", "tail"}
        for name, beam in other.items():
            assert beam.elements == beams[0][name].elements
            np.testing.assert_allclose(beam.axes, beams[0][name].axes, atol=1e-12)
            np.testing.assert_allclose(beam.station_m, beams[0][name].station_m, atol=1e-12)


def test_not_known_is_no_number(random_skeletons, beast):
    """A trunk between feet whose support does not hold the centre: not known, and never zero."""
    skeleton, found = beast
    loads = {load.child: load for load in found.joints}
    trunk = {load.child for load in found.joints if load.child.startswith("dorsal")}
    unknown = {child: replace(load, force_N=None, moment_Nm=None) for child, load in loads.items() if child in trunk}
    joints = tuple(unknown.get(load.child, load) for load in found.joints)
    beams = {beam.name: beam for beam in find_beams(skeleton, replace(found, joints=joints))}
    assert np.isnan(beams["trunk"].resultant_bending_Nm).all()
    assert np.isnan(beams["trunk"].axial_N).all()
    assert np.isfinite(beams["neck"].bending_Nm).all()


def test_two_limbs_on_one_girdle_are_two():
    """A pelvis of one piece: both hind limbs begin with its joint, and each has its own bones."""
    walker = make_walker()
    hips = [joint for joint in walker.joints if joint.child.startswith("hind thigh")]
    pelvis = replace(walker.elements[walker.index("hind thigh left")], name="pelvis", series="girdle", side="middle")
    joints = [replace(joint, parent="pelvis") if joint in hips else joint for joint in walker.joints]
    joints.append(replace(hips[0], child="pelvis"))
    whole = build_skeleton("walker", (*walker.elements, pelvis), tuple(joints), walker.feet)
    limbs = [children for kind, children in list_beam_joints(whole) if kind == "limb"]
    assert len(limbs) == 4
    for side in ("left", "right"):
        (hind,) = (own for own in limbs if f"hind thigh {side}" in own)
        assert hind[:3] == ("pelvis", f"hind thigh {side}", f"hind shank {side}")
    posing = prepare_posing(whole)
    assert all(posing.find_chain(chain.name) is chain for chain in posing.chains)
    assert [chain.base for chain in posing.chains if "pelvis" in chain.children] == ["sacrum", "sacrum"]
