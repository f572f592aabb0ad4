"""Real feet: the dog's paws end at slightly different heights, and stand all the same."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.build.materials import default_build
from core_calcs.mesh.reading import read_surface
from core_calcs.mesh.survey import survey_body
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, build_skeleton
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.assess import assess
from core_calcs.studies.stand import find_standing

PAWS = {
    f"{end} {side}": [f"BONE{pattern.format(digit=digit, side=letter)}.stl" for digit in digits]
    for end, pattern, digits in (
        ("fore", "Phalanx_distalis_digiti_{digit}_{side}", ("II", "III", "IV", "V")),
        ("hind", "Phalanges_B_3_{side}_{digit}", ("1", "2", "3", "4")),
    )
    for side, letter in (("left", "L"), ("right", "R"))
}


@pytest.fixture(scope="module")
def dog(dog_folder, random_skeletons):
    """Pelvis and toes in one piece, far above the ground: enough to stand on."""
    surfaces = {"BONEPelvis.stl": None, **{file: None for files in PAWS.values() for file in files}}
    elements, joints = [], []
    for file in surfaces:
        surface, solid = survey_body(read_surface(dog_folder / file, 1.0))
        surfaces[file] = surface.vertices
        elements.append(random_skeletons.make_element(file, solid, np.eye(4)))
        if file != "BONEPelvis.stl":
            joint = random_skeletons.make_joint("BONEPelvis.stl", file, make_transform(np.eye(3), solid.centre_m))
            joints.append(replace(joint, kind="fixed"))
    feet = tuple(
        Foot(name, tuple(Contact(file, np.unique(surfaces[file], axis=0)) for file in files))
        for name, files in PAWS.items()
    )
    return build_skeleton("dog's feet", tuple(elements), tuple(joints), feet)


@pytest.mark.dog
@pytest.mark.parametrize("level", [False, True])
def test_all_four_paws_stand_with_the_default_tolerance(dog, level):
    site = Site()
    pose = Pose("lifted", X_WN=make_transform(np.eye(3), [2, 1, 0.7]))
    standing = find_standing(dog, pose, site, level)
    assert standing.feet == tuple(PAWS)
    found = assess(dog, standing.pose, default_build(), site)
    states = {check.name: check.state for check in found.checks}
    for name in ("Stands", "Feet on the ground bear load", "Equilibrium", "Meshes closed"):
        assert states[name] == "holds", name
    assert states["Nothing below the ground"] == "holds"
    weight = found.mass_kg * GRAVITY
    assert sum(foot.force_N for foot in found.feet) == pytest.approx(weight, rel=1e-9)
    # The dog is symmetric about its mid-plane: left and right carry the same.
    forces = {foot.foot: foot.force_N for foot in found.feet}
    for end in ("fore", "hind"):
        assert forces[f"{end} left"] == pytest.approx(forces[f"{end} right"], rel=1e-3)


@pytest.mark.dog
def test_paws_of_a_tilted_dog_come_down_by_levelling(dog):
    """Tilted by 2°, a few of its paws are centimetres up: level brings all four back."""
    tilt = np.radians(2)
    R = np.array([[np.cos(tilt), 0, np.sin(tilt)], [0, 1, 0], [-np.sin(tilt), 0, np.cos(tilt)]])
    pose = Pose("tilted", X_WN=make_transform(R, np.zeros(3)))
    assert len(find_standing(dog, pose, Site()).feet) == 2
    standing = find_standing(dog, pose, Site(), level=True)
    assert standing.feet == tuple(PAWS)
    assert standing.tilt_rad == pytest.approx(tilt, abs=np.radians(0.5))
