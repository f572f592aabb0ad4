"""A foot rolls over its toes: the metapodium turns as asked, the toes stay, no joint leaves its range."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from core_calcs.document.reading import read_document
from core_calcs.posing.bounds import lie_within
from core_calcs.posing.posing import Posing
from core_calcs.site.site import Site
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.transforms import apply
from core_calcs.studies.legs import find_legs, find_own_leg, find_rolling, place_points
from core_calcs.studies.posing import PlaceGoal, prepare_posing, reach
from core_calcs.studies.rolling import Rolled, prepare_roll, prepare_under, roll_foot, roll_under
from tests.made_up_walker import make_walker

STANDING, FOOT = Pose("standing"), "hind left foot"
DEMO = Path(__file__).parents[3] / "addon" / "demo" / "quay_strider.json"


@pytest.fixture(scope="module")
def walker() -> Posing:
    return prepare_posing(make_walker())


@pytest.fixture(scope="module")
def site(walker: Posing) -> Site:
    points = [p for foot in walker.skeleton.feet for p in place_points(walker, STANDING, foot).values()]
    return Site(ground_m=min(float(own[:, 2].min()) for own in points))


def lies_inside(posing: Posing, pose: Pose) -> bool:
    angles = np.array([pose.angles_rad.get(joint.child, np.zeros(3)) for joint in posing.skeleton.joints])
    known = np.array([joint.moves and joint.limits is not None for joint in posing.skeleton.joints])
    return bool(lie_within(posing.bounds, angles)[known].all())


def list_toes(posing: Posing, pose: Pose, name: str = FOOT) -> np.ndarray:
    """(n, 3) what of a foot's toes may touch the ground."""
    foot = posing.skeleton.feet[posing.skeleton.foot_index(name)]
    return np.concatenate([own for element, own in place_points(posing, pose, foot).items() if "toe" in element])


def place_ankle(posing: Posing, pose: Pose) -> np.ndarray:
    """(3,) the joint of the metapodium."""
    row = posing.skeleton.index("hind metapodium left")
    X_WN = place_elements(posing.skeleton, pose)[row] @ np.linalg.inv(posing.skeleton.elements[row].X_WE)
    return apply(X_WN, posing.skeleton.joint_of("hind metapodium left").X_WJ[:3, 3][None])[0]


def test_toes_and_what_they_hang_on_are_found(walker: Posing, site: Site) -> None:
    rolling = find_rolling(walker, STANDING, site, FOOT)
    assert rolling.carrier == "hind metapodium left"
    assert [toe.joints for toe in rolling.toes] == [("hind toe 2 left",), ("hind toe 3 left",)]


def test_toes_each_on_a_metatarsal_of_its_own_roll_about_their_own_joints() -> None:
    """Metatarsals turn on the ankle, and touch the ground by their ends: they are no part of the toes, and stay."""
    posing = prepare_posing(make_walker(rays=True))
    site = Site(
        ground_m=min(
            float(p[:, 2].min()) for f in posing.skeleton.feet for p in place_points(posing, STANDING, f).values()
        )
    )
    rolling = find_rolling(posing, STANDING, site, FOOT)
    assert rolling.carrier == "hind tarsal left"
    assert [toe.joints for toe in rolling.toes] == [("hind toe 2 left",), ("hind toe 3 left",)]
    assert [toe.low for toe in rolling.toes] == [("hind toe 2 left",), ("hind toe 3 left",)]
    rolled = roll_foot(prepare_roll(posing, STANDING, site, FOOT), np.radians(20))
    assert np.degrees(rolled.turns_rad[0]) == pytest.approx(20, abs=0.05)
    off = np.linalg.norm(list_toes(posing, rolled.pose) - list_toes(posing, STANDING), axis=1)
    assert off.max() < 2e-4
    for digit in (2, 3):
        assert abs(np.degrees(rolled.pose.angles_rad[f"hind toe {digit} left"][0])) == pytest.approx(20, abs=0.2)
        assert f"hind metatarsal {digit} left" not in rolled.pose.angles_rad


@pytest.mark.parametrize("degrees", [-10, 5, 20, 40])
@pytest.mark.parametrize("body", [False, True])
def test_the_heel_lifts_and_the_toes_stay(walker: Posing, site: Site, degrees: float, body: bool) -> None:
    """Parallel joints abreast: nothing slips, and the toes' joints turn back by the very angle."""
    standing = [foot.name for foot in walker.skeleton.feet] if body else None
    rolled = roll_foot(prepare_roll(walker, STANDING, site, FOOT, standing), np.radians(degrees))
    assert np.degrees(rolled.turns_rad[0]) == pytest.approx(abs(degrees), abs=0.05)
    off = np.linalg.norm(list_toes(walker, rolled.pose) - list_toes(walker, STANDING), axis=1)
    assert off.max() < 2e-4
    assert rolled.slips_m < 2e-4
    for toe in ("hind toe 2 left", "hind toe 3 left"):
        assert abs(np.degrees(rolled.pose.angles_rad[toe][0])) == pytest.approx(abs(degrees), abs=0.2)
    if body:
        for name in (foot.name for foot in walker.skeleton.feet if foot.name != FOOT):
            off = list_toes(walker, rolled.pose, name) - list_toes(walker, STANDING, name)
            assert np.linalg.norm(off, axis=1).max() < 1e-5
    else:
        np.testing.assert_array_equal(rolled.pose.X_WN, STANDING.X_WN)
        ankles = (place_ankle(walker, own) for own in (rolled.pose, STANDING))
        ahead, _, _ = next(ankles) - next(ankles)
        assert ahead * degrees > 0, "it goes forwards as the heel lifts"
    assert lies_inside(walker, rolled.pose)


def test_beyond_the_range_of_the_toes_it_is_told(walker: Posing, site: Site) -> None:
    """Toes flex 50°: past that they cannot lie flat, and no joint leaves its range for it."""
    rolled = roll_foot(prepare_roll(walker, STANDING, site, FOOT), np.radians(75))
    assert lies_inside(walker, rolled.pose)
    slips = np.linalg.norm(list_toes(walker, rolled.pose) - list_toes(walker, STANDING), axis=1).max()
    assert slips > 1e-3 or rolled.found.misses[0] > np.radians(5)
    assert max(rolled.slips_m, rolled.off_m, float(rolled.found.misses[0])) > 1e-3


def test_the_body_goes_farther_over_feet_that_roll(walker: Posing, site: Site) -> None:
    """Where feet held flat let it go no farther the heels lift; where they do not stop it they hardly do."""
    root, feet = walker.skeleton.root, [foot.name for foot in walker.skeleton.feet]
    centre = apply(root.X_WE, root.solid.centre_m[None])[0]
    legs, held = find_legs(walker, feet)
    for offset, wanted in (((0.05, 0.0, -0.1), False), ((0.2, 0.0, 0.03), True)):
        goals = [PlaceGoal(root.name, root.solid.centre_m, centre + np.array(offset))]
        flat = reach(walker, STANDING, goals, legs, held, 1.0)
        rolled = roll_under(prepare_under(walker, STANDING, site, feet), goals)
        turned = np.degrees(max(rolled.turns_rad))
        if wanted:
            assert flat.misses[0] > 0.01
            assert rolled.found.misses[0] < flat.misses[0] / 3
            assert turned > 5
        else:
            assert flat.misses[0] < 1e-3
            assert rolled.found.misses[0] < 1e-3
            assert turned < 2
        for name in feet:
            off = np.linalg.norm(list_toes(walker, rolled.pose, name) - list_toes(walker, STANDING, name), axis=1)
            assert off.max() < 1e-3
        assert lies_inside(walker, rolled.pose)


def test_a_foot_in_the_air_does_not_roll(walker: Posing, site: Site) -> None:
    lifted = Pose("lifted", {"hind shank left": np.array([0.6, 0.0, 0.0])})
    with pytest.raises(SkeletonError, match="none of its toes stands"):
        prepare_roll(walker, lifted, site, FOOT)


def test_toes_that_are_fixed_do_not_roll(walker: Posing, site: Site) -> None:
    """A toe that turns is in the air beside them: no setting down would help."""
    fixed = [
        replace(j, kind="fixed", limits=None) if j.child == "hind toe 2 left" else j for j in walker.skeleton.joints
    ]
    own = walker.skeleton
    posing = prepare_posing(build_skeleton(own.name, own.elements, fixed, own.feet))
    raised = Pose("raised", {"hind toe 3 left": np.array([-0.3, 0.0, 0.0])})
    with pytest.raises(SkeletonError, match="stands on the ground does not turn"):
        prepare_roll(posing, raised, site, FOOT)


@pytest.mark.parametrize("degrees", [15, 30, 45])
def test_toes_that_point_apart_stay_on_the_ground(degrees: float) -> None:
    """The demo's animal: four toes, the first of them behind the others; they slip a little, none leaves its height."""
    document = read_document(DEMO)
    posing, site = prepare_posing(document.skeleton), document.site
    pose = next(own for own in document.poses if own.name == "standing")
    rolled = roll_foot(prepare_roll(posing, pose, site, "left foot"), np.radians(degrees))
    assert np.degrees(rolled.turns_rad[0]) == pytest.approx(degrees, abs=0.1)
    assert rolled.off_m < 5e-4
    assert rolled.slips_m < 0.05
    toes = find_rolling(posing, pose, site, "left foot").toes
    placed = place_elements(posing.skeleton, rolled.pose)
    for toe in toes[1:]:
        at = apply(placed[posing.skeleton.index(toe.pin.element)], toe.pin.point_m[None])[0]
        assert np.linalg.norm(at - toe.pin.place_m) < 0.012
    foot = document.skeleton.feet[document.skeleton.foot_index("left foot")]
    assert min(float(own[:, 2].min()) for own in place_points(posing, rolled.pose, foot).values()) > -5e-4
    assert lies_inside(posing, rolled.pose)


def drag_foot(
    posing: Posing, pose: Pose, site: Site, foot: str, ways: list[float], standing: list[str] | None
) -> list[Rolled]:
    ready, last, every = prepare_roll(posing, pose, site, foot, standing), pose, []
    for angle in ways:
        every.append(roll_foot(ready, angle, last))
        last = every[-1].pose
    return every


@pytest.mark.parametrize("body", [False, True])
def test_a_drag_shows_what_it_ends_as(walker: Posing, site: Site, body: bool) -> None:
    """Six steps out: as a search to the end finds it; six back: as it began. No joint leaves its range meanwhile."""
    standing = [foot.name for foot in walker.skeleton.feet] if body else None
    out = np.radians(np.linspace(0, 30, 6)).tolist()
    every = drag_foot(walker, STANDING, site, FOOT, [*out, *out[::-1]], standing)
    for rolled, angle in zip(every, [*out, *out[::-1]], strict=True):
        exact = roll_foot(prepare_roll(walker, STANDING, site, FOOT, standing), angle)
        assert np.degrees(rolled.turns_rad[0]) == pytest.approx(np.degrees(angle), abs=0.5)
        assert np.linalg.norm(list_toes(walker, rolled.pose) - list_toes(walker, exact.pose), axis=1).max() < 1e-3
        assert lies_inside(walker, rolled.pose)
    ends = place_elements(walker.skeleton, every[-1].pose) - place_elements(walker.skeleton, STANDING)
    assert np.abs(ends).max() < 2e-3


@pytest.mark.parametrize("degrees", [10, 25])
def test_toes_set_down_together_are_near_to_where_each_comes_alone(degrees: float) -> None:
    """The demo's animal, whose toes of 0.4 m point apart; the one behind cannot lie flat. Slip and height are told."""
    document = read_document(DEMO)
    posing, site = prepare_posing(document.skeleton), document.site
    pose = next(own for own in document.poses if own.name == "standing")
    ways = np.radians(np.linspace(0, degrees, 4)).tolist()
    rolled = drag_foot(posing, pose, site, "left foot", ways, None)[-1]
    exact = roll_foot(prepare_roll(posing, pose, site, "left foot"), ways[-1])
    toes = find_rolling(posing, pose, site, "left foot").toes
    one, other = (place_elements(posing.skeleton, own.pose) for own in (rolled, exact))
    for toe in toes:
        row = posing.skeleton.index(toe.pin.element)
        ends = (apply(X[row], toe.pin.point_m[None])[0] for X in (one, other))
        assert np.linalg.norm(next(ends) - next(ends)) < 3e-3
    assert rolled.slips_m == pytest.approx(exact.slips_m, abs=2e-3)
    assert rolled.off_m < 2e-3
    assert lies_inside(posing, rolled.pose)
    may_turn = {own for toe in toes for own in toe.joints} | set(find_own_leg(posing, "left foot"))
    for child in {*rolled.pose.angles_rad, *pose.angles_rad} - may_turn:
        np.testing.assert_array_equal(rolled.pose.angles_rad[child], pose.angles_rad[child])


def test_what_was_dragged_with_the_body_goes_back_without_it(walker: Posing, site: Site) -> None:
    """The way of holding is changed within a drag: body and other legs are as they were."""
    feet = [foot.name for foot in walker.skeleton.feet]
    with_body = drag_foot(walker, STANDING, site, FOOT, [0.1, 0.2, 0.3], feet)[-1].pose
    assert not np.allclose(with_body.X_WN, STANDING.X_WN)
    alone = roll_foot(prepare_roll(walker, STANDING, site, FOOT), 0.3, with_body).pose
    np.testing.assert_array_equal(alone.X_WN, STANDING.X_WN)
    assert all(child.startswith("hind") and child.endswith("left") for child in alone.angles_rad)


def test_the_body_is_dragged_over_feet_that_roll(walker: Posing, site: Site) -> None:
    """Step by step to where flat feet let it not go, and there as near as a search to the end comes."""
    root, feet = walker.skeleton.root, [foot.name for foot in walker.skeleton.feet]
    centre = apply(root.X_WE, root.solid.centre_m[None])[0]
    ready, last = prepare_under(walker, STANDING, site, feet), STANDING
    for share in [*np.linspace(0.1, 1.0, 10).tolist(), 1.0, 1.0]:
        goals = [PlaceGoal(root.name, root.solid.centre_m, centre + share * np.array([0.2, 0.0, 0.03]))]
        rolled = roll_under(ready, goals, last)
        last = rolled.pose
        assert lies_inside(walker, last)
        for name in feet:
            off = np.linalg.norm(list_toes(walker, last, name) - list_toes(walker, STANDING, name), axis=1)
            assert off.max() < 3e-3
    exact = roll_under(ready, goals)
    assert rolled.found.misses[0] == pytest.approx(exact.found.misses[0], abs=5e-3)
    assert np.degrees(max(rolled.turns_rad)) > 5
