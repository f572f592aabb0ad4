"""What touches the ground, named by the user: kept with its points, borne on or not pose by pose."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.editing import set_site
from core_calcs.document.reading import document_from_text, document_to_text
from core_calcs.mesh.reading import hash_file, read_surface
from core_calcs.mesh.survey import survey_body
from core_calcs.site.actions import Footing
from core_calcs.site.site import GRAVITY, Site
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.joint import Joint
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, build_skeleton
from core_calcs.spatial.errors import DocumentError, SkeletonError
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.assess import assess
from core_calcs.studies.contacts_by_hand import (
    add_contact,
    propose_contact_name,
    remove_contact,
    set_bearing,
)
from core_calcs.studies.stand import find_standing

LEFT, RIGHT, TAIL = np.array([0.5, 0.4, 0.0]), np.array([0.5, -0.4, 0.0]), np.array([-1.0, 0.0, 0.0])
PITCHED = np.array([-0.2, 0.1])


@pytest.fixture
def document(tmp_path: Path, random_skeletons) -> SkeletonDocument:
    """A trunk on two point feet, and behind it a tail whose mesh, a cone in millimetres, ends in a tip at the ground.

    All of the weight is the trunk's: its centre stands over PITCHED.
    """
    solid = random_skeletons.make_solid(0.02, np.array([*PITCHED, 1.0]), np.full(3, 0.1))
    trunk = random_skeletons.make_element("trunk", solid, np.eye(4))
    cone = trimesh.creation.cone(radius=20, height=300)
    cone.apply_transform(trimesh.transformations.rotation_matrix(np.pi, [1, 0, 0]))
    cone.apply_translation(1000 * TAIL + [0, 0, 300])
    cone.export(tmp_path / "tail.stl")
    measured = replace(survey_body(read_surface(tmp_path / "tail.stl", 0.001))[1], volume_m3=0.0)
    source = Source("tail.stl", None, 0.001, hash_file(tmp_path / "tail.stl"))
    tail = Element("caudal 1", "caudal", 1, "middle", "scanned", source, measured, np.eye(4))
    joint: Joint = random_skeletons.make_joint("trunk", "caudal 1", make_transform(np.eye(3), [-0.5, 0, 0.5]))
    feet = tuple(
        Foot(name, (Contact("trunk", place[None]),)) for name, place in (("left foot", LEFT), ("right foot", RIGHT))
    )
    skeleton = build_skeleton("stool", (trunk, tail), (joint,), feet)
    return SkeletonDocument(skeleton, (Pose("resting"),), default_build(), Site(), ".")


def study(document: SkeletonDocument, pose: Pose | None = None):
    return assess(document.skeleton, pose or document.poses[0], document.build, document.site)


def forces(found) -> dict[str, float | None]:
    return {foot.foot: foot.force_N for foot in found.feet}


def share_out(points: np.ndarray, centre: np.ndarray) -> np.ndarray:
    """Barycentric co-ordinates: three vertical forces follow from three equations of equilibrium."""
    return np.linalg.solve(np.vstack([np.ones(3), points[:, :2].T]), [1.0, *centre])


def test_three_point_contacts_share_as_equilibrium_says(document, tmp_path):
    with_tail = add_contact(document, "tail", ["caudal 1"], tmp_path)
    found = study(with_tail)
    weight = found.mass_kg * GRAVITY
    expected = weight * share_out(np.array([LEFT, RIGHT, TAIL]), found.centre_m[:2])
    for foot, force in zip(found.feet, expected, strict=True):
        assert foot.force_N == pytest.approx(force, rel=1e-9)
        assert foot.range_N == pytest.approx((force, force), rel=1e-9)
    assert [foot.bears for foot in found.feet] == [True] * 3
    # The margin by hand: the nearest of the three sides.
    corners = np.array([TAIL, RIGHT, LEFT])[:, :2]
    along = np.roll(corners, -1, axis=0) - corners
    offset = found.centre_m[:2] - corners
    distances = (along[:, 0] * offset[:, 1] - along[:, 1] * offset[:, 0]) / np.linalg.norm(along, axis=1)
    assert found.distance_margin_m == pytest.approx(distances.min(), rel=1e-7)
    assert np.degrees(found.tip_angle_rad) == pytest.approx(np.degrees(np.arctan(distances.min() / 1.0)), rel=1e-6)
    # The joint of the tail carries what the ground pushes up there, and the tail itself weighs nothing.
    (load,) = [load for load in found.joints if load.child == "caudal 1"]
    assert load.force_N == pytest.approx([0, 0, expected[2]], rel=1e-9)
    assert load.moment_Nm == pytest.approx(np.cross(TAIL - load.point_m, [0, 0, expected[2]]), rel=1e-6)
    assert load.force_range_N is None


def test_two_feet_alone_do_not_hold_it(document):
    """Without the tail the same pose stands on a line."""
    found = study(document)
    assert found.checks[0].state == "fails"
    assert forces(found) == {"left foot": None, "right foot": None}


def test_a_contact_that_is_let_off_is_as_if_it_were_not_there(document, tmp_path):
    with_tail = add_contact(document, "tail", ["caudal 1"], tmp_path)
    idle = set_bearing(with_tail, "resting", "tail", False)
    assert idle.poses[0].idle_feet == ("tail",)
    found, without = study(idle), study(document)
    assert forces(found) == {**forces(without), "tail": None}
    assert [foot.bears for foot in found.feet] == [True, True, False]
    assert found.support_polygon_m == pytest.approx(without.support_polygon_m)
    assert found.checks[0] == without.checks[0]
    again = set_bearing(idle, "resting", "tail", True)
    assert again.poses[0].idle_feet == ()
    assert forces(study(again)) == forces(study(with_tail))


def test_setting_down_heeds_what_bears(document, tmp_path):
    """The tail hangs 100 mm lower than the feet: set down on it, or, where it is let off, on the feet."""
    with_tail = add_contact(document, "tail", ["caudal 1"], tmp_path)
    c, s = np.cos(0.07), np.sin(0.07)
    lower = Pose("p", X_WN=make_transform([[c, 0, -s], [0, 1, 0], [s, 0, c]], np.zeros(3)))
    assert find_standing(with_tail.skeleton, lower, Site()).feet == ("tail",)
    assert find_standing(with_tail.skeleton, replace(lower, idle_feet=("tail",)), Site()).feet == (
        "left foot",
        "right foot",
    )
    level = find_standing(with_tail.skeleton, lower, Site(), level=True)
    assert level.feet == ("left foot", "right foot", "tail")
    assert level.tilt_rad == pytest.approx(0.07, rel=1e-6)
    with pytest.raises(SkeletonError, match="none of the feet bear"):
        find_standing(document.skeleton, Pose("p", idle_feet=("left foot", "right foot")), Site())


def test_what_is_let_off_may_still_not_be_below_the_ground(document, tmp_path):
    with_tail = add_contact(document, "tail", ["caudal 1"], tmp_path)
    sunk = Pose("p", {"caudal 1": np.array([0.0, 0.2, 0.0])}, idle_feet=("tail",))
    sunk = replace(sunk, X_WN=make_transform(np.eye(3), [0, 0, -0.02]))
    (ground,) = [check for check in study(with_tail, sunk).checks if check.name == "Nothing below the ground"]
    assert ground.state == "fails"


def test_nothing_that_bears_is_told(document):
    found = study(document, Pose("p", idle_feet=("left foot", "right foot")))
    assert (found.checks[0].state, found.checks[0].missing) == ("not known", "a foot that bears: the pose lets none")


def test_the_document_keeps_it(document, tmp_path):
    changed = set_bearing(add_contact(document, " tail ", ["caudal 1"], tmp_path), "resting", "tail", False)
    again = document_from_text(document_to_text(changed), "text")
    foot = again.skeleton.feet[2]
    assert (foot.name, foot.origin, foot.contacts[0].element) == ("tail", "by hand", "caudal 1")
    assert foot.contacts[0].points_m[:, 2].min() == pytest.approx(0, abs=1e-9)
    assert again.poses[0].idle_feet == ("tail",)
    assert len(document.skeleton.feet) == 2


def test_removing_it_lets_the_poses_forget_it(document, tmp_path):
    changed = set_bearing(add_contact(document, "tail", ["caudal 1"], tmp_path), "resting", "tail", False)
    site = Site(footings=(Footing("tail", 0.1), Footing("left foot", 0.02)))
    gone = remove_contact(set_site(changed, site), "tail")
    assert [foot.name for foot in gone.skeleton.feet] == ["left foot", "right foot"]
    assert gone.site.footings == (Footing("left foot", 0.02),)
    assert gone.poses[0].idle_feet == ()
    with pytest.raises(SkeletonError, match="These do: left foot, right foot"):
        remove_contact(gone, "tail")


def test_names_are_proposed(document, tmp_path):
    assert propose_contact_name(document.skeleton, ["caudal 1"]) == "tail"
    with_tail = add_contact(document, "tail", ["caudal 1"], tmp_path)
    assert propose_contact_name(with_tail.skeleton, ["caudal 1"]) == "tail 2"
    assert propose_contact_name(document.skeleton, ["trunk", "caudal 1"]) == "trunk"


@pytest.mark.parametrize(
    ("name", "elements", "message"),
    [
        ("  ", ["caudal 1"], "its name is empty"),
        ("left foot", ["caudal 1"], "something of that name touches"),
        ("tail", [], "no element is named"),
        ("tail", ["caudal 9"], "no element of that name"),
        ("tail", ["caudal 1", "caudal 1"], "named twice"),
        ("tail", ["trunk"], "as part of 'right foot'"),
    ],
)
def test_what_cannot_be_is_refused(document, tmp_path, name, elements, message):
    with pytest.raises(SkeletonError, match=message):
        add_contact(document, name, elements, tmp_path)


def test_a_changed_file_is_refused_and_one_that_is_not_needed_is_not_asked_for(document, tmp_path):
    """trunk.stl is not there at all."""
    add_contact(document, "tail", ["caudal 1"], tmp_path)
    trimesh.creation.box().export(tmp_path / "tail.stl")
    with pytest.raises(DocumentError, match=r"tail\.stl"):
        add_contact(document, "tail", ["caudal 1"], tmp_path)


def test_unknown_names_are_refused(document):
    with pytest.raises(SkeletonError, match="nothing of that name touches the ground"):
        set_bearing(document, "resting", "nose", False)
    with pytest.raises(SkeletonError, match="no pose of that name"):
        set_bearing(document, "walking", "left foot", False)
    with pytest.raises(SkeletonError, match="nothing of that name touches the ground"):
        study(document, Pose("p", idle_feet=("nose",)))
