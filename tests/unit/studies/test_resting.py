"""What a pose rests on: its feet, or what reaches lower; files are read only where a box could reach so low."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.reading import hash_file, read_surface
from core_calcs.mesh.survey import survey_body
from core_calcs.site.actions import Footing
from core_calcs.site.site import Site
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, Skeleton, build_skeleton
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.resting import find_resting
from tests.made_up_walker import make_joint

UP_M, DROP_M = 2.0, 0.4
"""Height of the trunk's middle above its feet; how far the horn's tip stands above that middle."""


def raise_by(height_m: float) -> np.ndarray:
    return np.array([0.0, 0.0, height_m])


def turn_about_x(angle_rad: float) -> np.ndarray:
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    return make_transform([[1, 0, 0], [0, c, -s], [0, s, c]], np.zeros(3))


@pytest.fixture
def beast(tmp_path: Path) -> Skeleton:
    """A trunk on three point feet; above it two cones, tips up, and between its feet, above the ground, a tip down."""

    def make(name: str, mesh: trimesh.Trimesh, at: np.ndarray) -> Element:
        mesh.export(tmp_path / f"{name}.stl")
        solid = survey_body(read_surface(tmp_path / f"{name}.stl", 1.0))[1]
        source = Source(f"{name}.stl", None, 1.0, hash_file(tmp_path / f"{name}.stl"))
        return Element(name, "other", None, "middle", "scanned", source, solid, make_transform(np.eye(3), at))

    up = np.array([0, 0, UP_M])
    trunk = make("trunk", trimesh.creation.box((1.0, 0.5, 0.2)), up)
    cone = trimesh.creation.cone(radius=0.1, height=DROP_M)
    horn, thorn = (make(name, cone.copy(), up + np.array([x, 0, 0])) for name, x in (("horn", 0.4), ("thorn", -0.4)))
    belly = cone.copy().apply_transform(turn_about_x(np.pi))
    belly = make("belly", belly, up)
    joints = tuple(_fix(trunk, own) for own in (horn, thorn, belly))
    places = np.array([[0.5, 0.2, -UP_M], [0.5, -0.2, -UP_M], [-0.5, 0.0, -UP_M]])
    feet = tuple(Foot(f"foot {k}", (Contact("trunk", own[None]),)) for k, own in enumerate(places))
    return build_skeleton("beast", (trunk, horn, thorn, belly), joints, feet)


def _fix(parent: Element, child: Element):
    return replace(make_joint(parent, child, child.X_WE[:3, 3], (0, 0, 0)), kind="fixed", limits=None)


def find_lowest(skeleton: Skeleton, pose: Pose, name: str, folder: Path) -> float:
    i = skeleton.index(name)
    vertices = trimesh.load(folder / f"{name}.stl").vertices
    X = place_elements(skeleton, pose)[i]
    return float((vertices @ X[2, :3] + X[2, 3]).min())


def test_on_its_feet_it_is_as_it_was(beast: Skeleton, tmp_path: Path) -> None:
    found = find_resting(beast, Pose("p", X_WN=make_transform(np.eye(3), [0, 0, 0.3])), Site(), True, tmp_path)
    assert found.standing.feet == ("foot 0", "foot 1", "foot 2")
    assert (found.others, found.unread, found.standing.tilt_rad) == ((), (), 0.0)
    assert found.standing.lift_m == pytest.approx(-0.3)


def test_on_its_back_it_rests_on_what_is_lowest_and_on_no_foot(beast: Skeleton, tmp_path: Path) -> None:
    """Both tips at the ground, the feet in the air by the height of the trunk and of the tips."""
    site = Site(ground_m=0.7)
    for level in (False, True):
        found = find_resting(beast, Pose("p", X_WN=turn_about_x(np.pi)), site, level, tmp_path)
        assert found.others == ("horn", "thorn")
        assert found.standing.feet == ()
        assert found.unread == ()
        middle = place_elements(beast, found.standing.pose)[0][2, 3]
        assert middle == pytest.approx(site.ground_m + DROP_M, abs=1e-6)
        assert found.standing.lift_m == pytest.approx(middle + UP_M)
        for name in found.others:
            assert find_lowest(beast, found.standing.pose, name, tmp_path) == pytest.approx(site.ground_m, abs=1e-6)


def test_it_rests_on_what_is_lowest_where_more_than_a_tenth_is_below_its_feet(beast: Skeleton, tmp_path: Path) -> None:
    """Feet over the belly's tip: by 3 mm, within the tolerance; by 30, which it dips; over its centre; over the trunk.

    Of cones .1 m wide and .4 high the belly is 3.7 % of the whole, the trunk with it 93 %.
    """
    for gap, feet, sunk in ((0.003, 3, 0.0), (0.03, 3, 0.03), (0.35, 3, 0.35), (0.45, 0, 0.0)):
        higher = [Contact("trunk", foot.contacts[0].points_m + raise_by(UP_M - DROP_M + gap)) for foot in beast.feet]
        shorter = tuple(replace(foot, contacts=(own,)) for foot, own in zip(beast.feet, higher, strict=True))
        own = build_skeleton(beast.name, beast.elements, beast.joints, shorter)
        found = find_resting(own, Pose("p"), Site(), True, tmp_path)
        assert len(found.standing.feet) == feet
        assert found.others == (() if feet else ("belly",))
        assert found.sunk == ("belly" if sunk else "")
        assert found.depth_m == pytest.approx(sunk, abs=1e-6)
        if not feet:
            assert find_lowest(own, found.standing.pose, "belly", tmp_path) == pytest.approx(0, abs=1e-6)


def test_without_its_file_an_element_is_known_to_reach_its_centre(beast: Skeleton, tmp_path: Path) -> None:
    (tmp_path / "horn.stl").unlink()
    trimesh.creation.box().export(tmp_path / "thorn.stl")  # another file than was recorded
    for folder in (tmp_path, None):
        found = find_resting(beast, Pose("p", X_WN=turn_about_x(np.pi)), Site(), False, folder)
        assert found.standing.feet == ()
        assert set(found.others) == {"horn", "thorn"}
        assert set(found.unread) >= {"horn", "thorn"}
        # A cone's centre is a quarter of its height above its base.
        assert place_elements(beast, found.standing.pose)[0][2, 3] == pytest.approx(DROP_M / 4, abs=1e-6)
    upright = find_resting(beast, Pose("p"), Site())
    assert (len(upright.standing.feet), upright.others, upright.unread) == (3, (), ())


def test_elements_of_a_foot_that_is_let_off_may_be_anywhere(beast: Skeleton, tmp_path: Path) -> None:
    tip = Foot("tip", (Contact("belly", np.array([[0.0, 0.0, -DROP_M]])),))
    higher = [Contact("trunk", foot.contacts[0].points_m + raise_by(1.8)) for foot in beast.feet]
    shorter = tuple(replace(foot, contacts=(own,)) for foot, own in zip(beast.feet, higher, strict=True))
    own = build_skeleton(beast.name, beast.elements, beast.joints, (*shorter, tip))
    assert find_resting(own, Pose("p"), Site(), False, tmp_path).standing.feet == ("tip",)
    found = find_resting(own, Pose("p", idle_feet=("tip",)), Site(), False, tmp_path)
    assert (found.standing.feet, found.others) == (("foot 0", "foot 1", "foot 2"), ())


def test_what_is_no_foot_has_the_lowest_ground(beast: Skeleton, tmp_path: Path) -> None:
    """One foot's ground is 2.1 m lower: on its back the tips come down to there."""
    site = Site(footings=(Footing("foot 0", -2.1),))
    found = find_resting(beast, Pose("p", X_WN=turn_about_x(np.pi)), site, False, tmp_path)
    assert found.others == ("horn", "thorn")
    assert find_lowest(beast, found.standing.pose, "horn", tmp_path) == pytest.approx(-2.1, abs=1e-6)
