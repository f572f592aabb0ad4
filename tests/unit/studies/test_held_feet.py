"""Feet that are held on the ground stay there to a hundredth of a millimetre, whatever is asked of the body."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from core_calcs.document.reading import read_document
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.spatial.transforms import apply
from core_calcs.studies.legs import find_legs
from core_calcs.studies.posing import AttitudeGoal, PlaceGoal, Posing, prepare_posing, reach
from core_calcs.studies.posing_edits import nearest_allowed
from tests.made_up_walker import make_walker

STANDING = Pose("standing")
SLIP_M = 1e-5
DEMO = Path(__file__).parents[3] / "addon" / "demo" / "quay_strider.json"


@pytest.fixture(scope="module")
def walker() -> Posing:
    return prepare_posing(make_walker())


def place_contacts(posing: Posing, pose: Pose) -> np.ndarray:
    """(c, 3) every contact point of every foot, by the skeleton's own route."""
    skeleton, placed = posing.skeleton, place_elements(posing.skeleton, pose)
    return np.concatenate(
        [
            apply(placed[skeleton.index(contact.element)], contact.points_m)
            for foot in skeleton.feet
            for contact in foot.contacts
        ]
    )


def move_trunk(posing: Posing, offset_m: tuple[float, float, float], steps: int = 1, held: list[str] | None = None):
    """The trunk brought away from where it stands in so many calls, the feet held by the legs."""
    root = posing.skeleton.root
    centre = apply(root.X_WE, root.solid.centre_m[None])[0]
    legs = [joint.child for joint in posing.skeleton.joints if "toe" not in joint.child]
    feet = [foot.contacts[0].element for foot in posing.skeleton.feet] if held is None else held
    pose = STANDING
    for share in np.linspace(0, 1, steps + 1)[1:]:
        goal = PlaceGoal(root.name, root.solid.centre_m, centre + share * np.array(offset_m))
        found = reach(posing, pose, [goal], legs, feet, 1.0, STANDING)
        pose = found.pose
    return found


@pytest.mark.parametrize("offset_m", [(0.0, 0.0, -0.1), (0.1, 0.05, -0.1), (0.3, 0.0, -0.1)])
@pytest.mark.parametrize("steps", [1, 10])
def test_feet_stay_where_the_body_can_go(walker: Posing, offset_m: tuple[float, float, float], steps: int) -> None:
    found = move_trunk(walker, offset_m, steps)
    assert found.misses[0] < 5e-4
    off = np.linalg.norm(place_contacts(walker, found.pose) - place_contacts(walker, STANDING), axis=1)
    assert off.max() < SLIP_M
    assert found.slips_m == pytest.approx(off.max(), abs=1e-9)


@pytest.mark.parametrize("offset_m", [(0.0, 0.0, 0.2), (0.6, 0.3, -0.5)])
def test_feet_stay_where_the_body_cannot_go(walker: Posing, offset_m: tuple[float, float, float]) -> None:
    """What it is short of does not pull them off."""
    found = move_trunk(walker, offset_m, 10)
    assert found.misses[0] > 0.1
    off = np.linalg.norm(place_contacts(walker, found.pose) - place_contacts(walker, STANDING), axis=1)
    assert off.max() < SLIP_M


def test_a_slip_is_told_by_the_point_that_slips_most(walker: Posing) -> None:
    """Held though nothing but its own tip may turn: a toe turns about its joint, and its far contact goes farther."""
    toe = "fore toe 2 left"
    row = walker.skeleton.index(toe)
    joint = walker.skeleton.joint_of(toe)
    turned = Pose("turned", {toe: np.array([1e-3, 0.0, 0.0])})
    goal = PlaceGoal("sacrum", np.zeros(3), apply(walker.skeleton.root.X_WE, np.zeros((1, 3)))[0])
    found = reach(walker, turned, [goal], ["hind toe 2 left"], [toe], 0.0, STANDING)
    points = apply(walker.skeleton.elements[row].X_WE, walker.skeleton.feet[0].contacts[1].points_m)
    arms = np.linalg.norm((points - joint.X_WJ[:3, 3])[:, [0, 2]], axis=1)
    assert found.slips_m == pytest.approx(1e-3 * arms.max(), rel=1e-3)


def test_feet_go_back_when_a_pose_is_brought_inside(walker: Posing) -> None:
    beyond = Pose("beyond", {"fore shank left": np.array([1.2, 0.0, 0.0]), "hind thigh right": np.array([0, 0.6, 0])})
    feet = [foot.contacts[0].element for foot in walker.skeleton.feet]
    found = nearest_allowed(walker, beyond, feet)
    assert [change.child for change in found.changes] == ["fore shank left", "hind thigh right"]
    off = np.linalg.norm(place_contacts(walker, found.pose) - place_contacts(walker, beyond), axis=1)
    assert off.max() < 1e-4


@pytest.mark.parametrize("offset_m", [(0.0, 0.0, -0.5), (0.0, 0.0, -1.5), (0.4, -0.3, -0.3), (-0.5, 0.4, 0.2)])
def test_feet_stay_where_the_body_is_asked_out_of_reach(offset_m: tuple[float, float, float]) -> None:
    """The demo's animal, asked to stay upright as well: most of its joints then stand at their limits."""
    document = read_document(DEMO)
    posing, start = prepare_posing(document.skeleton), next(own for own in document.poses if own.name == "standing")
    legs, held = find_legs(posing, ["left foot", "right foot"])
    root = document.skeleton.root
    placed = start.X_WN @ root.X_WE
    goals = [
        PlaceGoal(root.name, root.solid.centre_m, apply(placed, root.solid.centre_m[None])[0] + offset_m),
        AttitudeGoal(root.name, placed[:3, :3]),
    ]
    found = reach(posing, start, goals, legs, held, 1.0, start)
    assert found.misses[0] > 0.01
    assert found.slips_m < 1e-4
    for element in held:
        own = document.skeleton.index(element)
        moved = place_elements(document.skeleton, found.pose)[own] - place_elements(document.skeleton, start)[own]
        assert np.abs(moved[:3]).max() < 1e-4
    assert reach(posing, start, goals, legs, held, 1.0, start, live=True).slips_m < 1e-2
