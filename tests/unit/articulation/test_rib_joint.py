"""Ribs on their vertebrae: a made-up one whose axis is known, and the dog's."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.partner import prepare_partner
from core_calcs.articulation.rib_joint import find_rib_joint
from core_calcs.mesh.element_surface import read_bodies
from core_calcs.mesh.survey import survey_body
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.spatial.transforms import is_rigid
from tests.dog_column import read_vertebrae
from tests.made_up_rib import HEAD, TUBERCLE, make_stub, make_vertebra_and_rib

SETTINGS = LimitSettings(search_rad=0.5)


def prepare(name, surface):
    repaired, solid = survey_body(surface)
    return prepare_partner(name, repaired, solid.volume_m3, solid.centre_m)


@pytest.fixture(scope="module")
def vertebra_and_rib():
    return [prepare(name, surface) for name, surface in zip(("vertebra", "rib"), make_vertebra_and_rib(), strict=True)]


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_rib_turns_about_the_axis_through_head_and_tubercle(vertebra_and_rib, side):
    joint = find_rib_joint(*vertebra_and_rib, side, SETTINGS)
    assert (joint.kind, joint.confidence) == ("limb", "found")
    assert is_rigid(joint.X_WJ)
    along = (TUBERCLE - HEAD) / np.linalg.norm(TUBERCLE - HEAD) * (1 if side == "left" else -1)
    assert np.degrees(np.arccos(joint.X_WJ[:3, 0] @ along)) < 2
    assert [limit.high.reason for limit in joint.limits[1:]] == ["held", "held"]
    assert joint.limits[0].low.angle_rad < 0 < joint.limits[0].high.angle_rad


def test_a_rib_that_meets_its_vertebra_by_one_facet_alone_is_ambiguous(vertebra_and_rib):
    vertebra, _ = vertebra_and_rib
    stub = prepare("rib", make_stub())
    joint = find_rib_joint(vertebra, stub, "left", SETTINGS)
    assert not joint.moves
    assert joint.confidence == "ambiguous"
    assert joint.reason.endswith("set it by hand")


@pytest.mark.dog
def test_axes_of_a_dogs_pair_of_ribs_mirror_each_other(dog_folder):
    """The seventh thoracic vertebra's: head and tubercle both face it."""
    vertebra = read_vertebrae(dog_folder, {f"T_{i}" for i in range(1, 14)})["T_7"]
    _, solid = survey_body(vertebra)
    bodies = read_bodies(dog_folder, "BONERibcage.stl", 1.0)
    place = solid.centre_m + np.array([0.005, 0, -0.007])
    joints = []
    for side, sign in (("left", 1), ("right", -1)):
        ribs = [
            body for body in bodies if sign * body.vertices[:, 1].mean() > 0.01 and np.ptp(body.vertices[:, 2]) > 0.06
        ]
        rib = min(ribs, key=lambda body: np.linalg.norm(body.vertices - place, axis=1).min())
        joints.append(find_rib_joint(prepare("T7", vertebra), prepare("rib", rib), side, SETTINGS))
    left, right = joints
    assert left.confidence == right.confidence == "found"
    assert len([facet for facet in left.facets if facet.element == "rib"]) == 2
    mirror = np.diag([1.0, -1.0, 1.0])
    assert np.degrees(np.arccos(-(mirror @ left.X_WJ[:3, 0]) @ right.X_WJ[:3, 0])) < 5
    assert left.limits[0].high.angle_rad == pytest.approx(right.limits[0].high.angle_rad, abs=np.radians(3))
