"""Bony ranges of the dog beside ranges published of living dogs.

The bony range is said to be an outer bound: flexion and extension together must be at least what a living joint of the
kind does, passively or walking. It is no more than that: breeds differ, goniometers read a joint to 1–6°, and where
flexion ends and extension begins depends on how the bones were laid out.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from core_calcs.articulation.column import column_axes
from core_calcs.articulation.column_joint import find_column_joint
from core_calcs.articulation.limb_joint import find_limb_joint
from core_calcs.articulation.partner import CELLS_A_SIZE, LIMB_CELLS_A_SIZE, Partner, prepare_partner
from core_calcs.mesh.reading import read_surface
from core_calcs.mesh.survey import survey_body
from core_calcs.skeleton.joint import Joint, LimitSettings

pytestmark = pytest.mark.dog

TABLE = "normal passive range, Canine Lameness, chapter 5, table 5.3: least extension less greatest flexion"
LABRADORS = "Jaegger, Marcellin-Little & Levine 2002, Am. J. Vet. Res. 63: 979-986, means of 16 Labrador Retrievers"
WALKING = "Schaub et al. 2021, Front. Vet. Sci. 8: 709966, abstract: up to this at a trot, 4 German shepherd dogs"
ELBOW_TOO_SMALL = "27 degrees short: bones touch at 50 degrees of flexion, half of the notch is off the facet at 62"

LIMBS = [
    pytest.param("Scapula_L", "humerus_L", 159 - 57, TABLE, "S", id="shoulder"),
    pytest.param(
        "humerus_L", "Ulna_L", 155 - 36, TABLE, "S", id="elbow",
        marks=pytest.mark.xfail(strict=True, reason=ELBOW_TOO_SMALL),
    ),
    pytest.param("Pelvis", "Femoris_L", 162 - 50, LABRADORS, "M", id="hip"),
    pytest.param("Femoris_L", "Tibia_L", 162 - 42, LABRADORS, "M", id="knee"),
]  # fmt: skip


@pytest.fixture(scope="module")
def bone(dog_folder):
    @cache
    def read(name: str, cells_a_size: float) -> Partner:
        surface, solid = survey_body(read_surface(dog_folder / f"BONE{name}.stl", 1.0))
        return prepare_partner(name, surface, solid.volume_m3, solid.centre_m, None, cells_a_size)

    return read


def add_ends(joint: Joint) -> float:
    """Flexion and extension together [deg]."""
    assert joint.limits is not None
    return float(np.degrees(joint.limits[0].high.angle_rad - joint.limits[0].low.angle_rad))


def check_outer_bound(check_value, name: str, source: str, tag: str, published_deg: float, bony_deg: float) -> None:
    """The row shows how much of the published range lies beyond the bony one."""
    beyond = max(0.0, published_deg - bony_deg)
    check_value(f"{name}: of {published_deg:g} deg beyond the bony {bony_deg:.0f} [deg]", source, tag, 0.0, beyond)


@pytest.mark.parametrize(("parent", "child", "published_deg", "source", "tag"), LIMBS)
def test_limbs_reach_what_living_dogs_do(check_value, bone, parent, child, published_deg, source, tag):
    limbs = LimitSettings(search_rad=2.6)
    joint = find_limb_joint(bone(parent, LIMB_CELLS_A_SIZE), bone(child, LIMB_CELLS_A_SIZE), "left", limbs)
    check_outer_bound(check_value, f"{parent} to {child}", source, tag, published_deg, add_ends(joint))


def test_the_lumbosacral_joint_reaches_what_trotting_dogs_do(check_value, bone):
    sacrum, last = bone("Sacrum", CELLS_A_SIZE), bone("L_7", CELLS_A_SIZE)
    joint = find_column_joint(sacrum, last, column_axes(last.centre, sacrum.centre), True, LimitSettings())
    check_outer_bound(check_value, "sacrum to L7", WALKING, "S", 5.1, add_ends(joint))
