"""Limb joints of real bones: the dog's (an articulated model whose true axes nobody tells).

The world is the animal's: x to the head, y to its left. Asked is what anatomy knows of a dog: hips and shoulders
are balls; elbows, knees and the joints of toes are hinges across the limb; nothing is claimed of wrist and ankle bones.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from core_calcs.articulation.limb_joint import find_limb_joint
from core_calcs.articulation.partner import LIMB_CELLS_A_SIZE, Partner, prepare_partner
from core_calcs.mesh.reading import read_surface
from core_calcs.mesh.survey import survey_body
from core_calcs.skeleton.joint import LimitSettings

pytestmark = pytest.mark.dog

BALLS = [("Pelvis", "Femoris_L"), ("Scapula_L", "humerus_L")]
HINGES = [
    ("humerus_L", "Ulna_L", "hinge"),
    ("Femoris_L", "Tibia_L", "paired condyles"),
    ("Phalanges_B_L_2", "Phalanges_B_2_L_2", "paired condyles"),
]
UNTOLD = [("Tarsus_L_III", "Tarsus_L_IV"), ("Carpal_II_L", "Carpal_III_L"), ("Tibia_L", "Fibula_L")]
SEARCH = LimitSettings(search_rad=2.6)


@pytest.fixture(scope="module")
def bone(dog_folder):
    @cache
    def read(name: str) -> Partner:
        surface, solid = survey_body(read_surface(dog_folder / f"BONE{name}.stl", 1.0))
        return prepare_partner(name, surface, solid.volume_m3, solid.centre_m, None, LIMB_CELLS_A_SIZE)

    return read


@pytest.mark.parametrize(("parent", "child"), BALLS)
def test_hips_and_shoulders_are_balls(bone, parent, child):
    joint = find_limb_joint(bone(parent), bone(child), "left", SEARCH)
    assert (joint.confidence, joint.fit.family, joint.fit.element) == ("found", "ball", child)
    assert joint.fit.residual_m < 0.03 * joint.fit.radii_m[0]
    assert all(limit.low.angle_rad < -0.3 and limit.high.angle_rad > 0.3 for limit in joint.limits)


@pytest.mark.parametrize(("parent", "child", "family"), HINGES)
def test_elbow_knee_and_toes_are_hinges_across_the_limb(bone, parent, child, family):
    joint = find_limb_joint(bone(parent), bone(child), "left", SEARCH)
    assert (joint.confidence, joint.fit.family, joint.fit.element) == ("found", family, parent)
    assert abs(joint.X_WJ[1, 0]) > 0.9
    degrees = np.degrees([joint.limits[0].low.angle_rad, joint.limits[0].high.angle_rad])
    assert degrees[0] < -20
    assert degrees[1] > 30


@pytest.mark.parametrize(("parent", "child"), UNTOLD)
def test_what_the_surfaces_do_not_tell_is_ambiguous(bone, parent, child):
    joint = find_limb_joint(bone(parent), bone(child), "left", SEARCH)
    assert (joint.kind, joint.confidence) == ("fixed", "ambiguous")
