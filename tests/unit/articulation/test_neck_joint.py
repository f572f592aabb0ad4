"""Joints of skull, atlas and axis: made-up ones whose joint is known, and the dog's."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.column import ColumnAxes, column_axes
from core_calcs.articulation.neck_joint import find_axial_joint
from core_calcs.articulation.partner import Partner, prepare_partner
from core_calcs.articulation.pivots import find_peg
from core_calcs.mesh.element_surface import read_bodies
from core_calcs.mesh.survey import survey_body
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.spatial.rotations import joint_rotation
from core_calcs.spatial.transforms import is_rigid
from tests.made_up_neck import PEG, SECTOR_DEG, make_atlas_and_axis

DOG_SIZE = 0.0255
"""s of the third vertebra, the smallest of those looked at [m]."""
SETTINGS = LimitSettings(gap_share_s=100.0)


def prepare(name, surface, smallest_neighbour=None) -> Partner:
    repaired, solid = survey_body(surface)
    return prepare_partner(name, repaired, solid.volume_m3, solid.centre_m, smallest_neighbour)


@pytest.fixture(scope="module", params=[0.0, 0.01])
def atlas_and_axis(request):
    surfaces = make_atlas_and_axis(request.param)
    return [prepare(name, surface) for name, surface in zip(("atlas", "axis"), surfaces, strict=True)], surfaces


def axes_between(headward, tailward):
    return column_axes(headward.centre, tailward.centre)


def test_a_peg_is_found_as_it_was_made(atlas_and_axis):
    (atlas, axis), _ = atlas_and_axis
    peg = find_peg(atlas, axis, axes_between(atlas, axis))
    assert peg is not None
    assert np.degrees(np.arccos(peg.axis @ [1, 0, 0])) < 1
    assert np.linalg.norm(peg.place[1:]) < 0.02 * PEG
    assert peg.radius == pytest.approx(PEG, rel=0.05)


def test_a_peg_in_a_ring_turns_about_the_peg_to_where_its_facets_have_half_slid_off(atlas_and_axis):
    (atlas, axis), _ = atlas_and_axis
    joint = find_axial_joint(axis, atlas, axes_between(atlas, axis), True, SETTINGS)
    assert joint.kind == "column"
    assert joint.confidence == "found"
    assert "pivot" in joint.reason
    assert is_rigid(joint.X_WJ)
    assert [limit.low.reason for limit in joint.limits[:2]] == ["held", "held"]
    low, high = joint.limits[2].low, joint.limits[2].high
    assert low.reason == high.reason == "facet overlap"
    # Where in the rough facets' range neutral lies hangs on rounding, another on each processor: .6 degrees were seen.
    low_deg, high_deg = np.degrees((low.angle_rad, high.angle_rad))
    assert high_deg - low_deg == pytest.approx(SECTOR_DEG, abs=6.0)
    assert (low_deg + high_deg) / 2 == pytest.approx(0, abs=1.0)
    turned = joint.X_WJ[:3, :3] @ joint_rotation(np.array([0, 0, 0.1]), joint.senses) @ joint.X_WJ[:3, :3].T
    assert turned @ [1, 0, 0] == pytest.approx([1, 0, 0], abs=2e-3)  # about the peg


def test_paired_facets_without_a_peg_are_no_pivot():
    headward, tailward = (
        prepare(name, surface) for name, surface in zip(("atlas", "axis"), make_atlas_and_axis(peg=False), strict=True)
    )
    axes = axes_between(headward, tailward)
    assert find_peg(headward, tailward, axes) is None
    joint = find_axial_joint(tailward, headward, axes, True, SETTINGS)
    assert not joint.moves
    assert joint.reason.endswith("set it by hand")


def test_paired_condyles_turn_about_their_axis_across_the_animal(limbs):
    """The parent's two condyles turn about y, the animal's left; the child stands above, towards the head."""
    pair = limbs.make_pair("condyles", 3, turned=False)
    axes = ColumnAxes(np.array([0, 0, 1.0]), np.array([0, 1.0, 0]), np.array([-1.0, 0, 0]))
    joint = find_axial_joint(pair.parent, pair.child, axes, True, SETTINGS)
    assert joint.confidence == "found"
    assert joint.fit.family == "paired condyles"
    assert np.degrees(np.arccos(joint.X_WJ[:3, 0] @ [0, 1, 0])) < 1
    assert np.linalg.norm(joint.X_WJ[[0, 2], 3]) < 0.02
    assert [limit.low.reason for limit in joint.limits[1:]] == ["held", "held"]
    flexed = joint.X_WJ[:3, :3] @ joint_rotation(np.array([0.1, 0, 0]), joint.senses) @ joint.X_WJ[:3, :3].T
    assert (flexed @ [0, 0, 1]) @ axes.back < -0.09  # the child's far end goes ventrally


@pytest.fixture(scope="module")
def dog(dog_folder) -> dict[str, Partner]:
    """Skull, C1 to C3."""
    bodies = {name: read_bodies(dog_folder, f"BONE{name}.stl", 1.0)[0] for name in ("C_1", "C_2", "C_3")}
    bodies["skull"] = max(read_bodies(dog_folder, "BONEMergedSkull.stl", 1.0), key=lambda body: len(body.faces))
    return {name: prepare(name, body, DOG_SIZE) for name, body in bodies.items()}


def find_dog_joint(dog, headward, tailward):
    head, tail = dog[headward], dog[tailward]
    return find_axial_joint(tail, head, axes_between(head, tail), True, LimitSettings())


@pytest.mark.dog
def test_axial_turn_governs_between_atlas_and_axis(dog):
    """Common practice, no source: the atlas turns about the dens, and about nothing else to speak of."""
    joint = find_dog_joint(dog, "C_1", "C_2")
    assert "pivot" in joint.reason
    assert len(joint.facets) == 4
    axial = joint.limits[2]
    left, right = np.degrees(axial.high.angle_rad), -np.degrees(axial.low.angle_rad)
    assert 15 < left < 45
    assert abs(left - right) < 2
    assert joint.limits[0].high.angle_rad == joint.limits[1].high.angle_rad == 0
    assert joint.X_WJ[:3, 3][1] == pytest.approx(0, abs=1e-4)  # on the middle plane


@pytest.mark.dog
def test_flexion_governs_between_skull_and_atlas(dog):
    """Common practice, no source: the head nods on the atlas."""
    joint = find_dog_joint(dog, "skull", "C_1")
    assert joint.fit is not None
    assert joint.fit.family == "paired condyles"
    assert joint.fit.element == "skull"
    assert joint.limits[0].high.angle_rad - joint.limits[0].low.angle_rad > np.radians(30)
    assert joint.limits[2].high.angle_rad == 0
    assert abs(joint.X_WJ[:3, 0] @ [0, 1, 0]) > np.cos(np.radians(3))


@pytest.mark.dog
def test_axis_and_third_vertebra_meet_by_their_centra_and_the_rest_is_ambiguous(dog):
    """The model lets the two overlap, and nothing bounds the axis's zygapophyses."""
    joint = find_dog_joint(dog, "C_2", "C_3")
    assert joint.moves
    assert joint.confidence == "ambiguous"
    assert [facet.kind for facet in joint.facets if facet.confidence == "found"] == ["centrum", "centrum"]
    unsure = [facet for facet in joint.facets if facet.confidence == "ambiguous"]
    assert len(unsure) == 4
    assert all("nothing bounds it" in facet.how for facet in unsure)
