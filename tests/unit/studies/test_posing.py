"""Chains bent, elements brought to places, every joint inside its range."""

import numpy as np
import pytest

from core_calcs.skeleton.envelope import measure_inside
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.spatial.errors import SkeletonError
from core_calcs.studies.posing import (
    PlaceGoal,
    bend_chain,
    bend_to,
    hold_joint,
    look_at,
    prepare_posing,
    reach,
    take_part,
)

NEUTRAL = Pose("neutral")


@pytest.fixture(scope="module")
def column(chains):
    return prepare_posing(chains.make_column(20, seed=2))


@pytest.fixture(scope="module")
def beast(box_document):
    return prepare_posing(box_document[0].skeleton)


def least_inside(posing, pose):
    """How far inside its range the worst joint is, by the other route."""
    found = []
    for joint in posing.skeleton.joints:
        if joint.limits is not None:
            angles = np.asarray(pose.angles_rad.get(joint.child, np.zeros(3)), float)
            found.append(measure_inside(joint.limits, joint.envelope, angles))
    return min(found)


def place_point(posing, pose, element, point_m):
    i = posing.skeleton.index(element)
    X = place_elements(posing.skeleton, pose)[i]
    return X[:3, :3] @ point_m + X[:3, 3]


def test_chains_are_found_with_their_ends(beast):
    found = {chain.name: (len(chain.children), chain.base, chain.tip) for chain in beast.chains}
    assert found["neck"] == (6, "dorsal 1", "skull")
    assert found["trunk"] == (6, "sacrum", "dorsal 1")
    assert found["tail"] == (10, "sacrum", "caudal 10")
    assert sum(chain.kind == "limb" for chain in beast.chains) == 4


def test_a_chain_bent_by_shares_takes_that_of_every_range(beast):
    bent = bend_chain(beast, NEUTRAL, "tail", shares=(0.5, -0.25, 0))
    for child in beast.find_chain("tail").children:
        flexion, lateral, _ = beast.skeleton.joint_of(child).limits
        wanted = (0.5 * flexion.high.angle_rad, 0.25 * lateral.low.angle_rad, 0.0)
        np.testing.assert_allclose(bent.pose.angles_rad[child], wanted)
    assert bent.at_limit == ()
    assert NEUTRAL.angles_rad == {}


def test_a_chain_bent_by_an_angle_turns_by_it_and_no_farther_than_its_ranges(beast, column):
    for posing, chain in ((beast, "tail"), (column, "neck")):
        bent = bend_chain(posing, NEUTRAL, chain, total_rad=(-0.6, 0.2, 0.05), fall_off=0.7)
        np.testing.assert_allclose(bent.turned_rad, (-0.6, 0.2, 0.05), atol=1e-5)
        assert least_inside(posing, bent.pose) >= 0
        all_of_it = bend_chain(posing, NEUTRAL, chain, total_rad=(50, 0, 0))
        assert 0 < all_of_it.turned_rad[0] < 50
        assert least_inside(posing, all_of_it.pose) >= 0
        assert len(all_of_it.at_limit) == len(posing.find_chain(chain).children)


def test_fall_off_bends_the_base_more_or_the_tip(beast):
    tail = beast.find_chain("tail").children
    more_at = {}
    for fall_off in (1.0, -1.0):
        pose = bend_chain(beast, NEUTRAL, "tail", shares=(0.5, 0, 0), fall_off=fall_off).pose
        more_at[fall_off] = [pose.angles_rad.get(child, np.zeros(3))[0] for child in tail]
    assert more_at[1.0] == sorted(more_at[1.0], reverse=True)
    assert more_at[-1.0] == sorted(more_at[-1.0])


def test_a_part_of_a_chain_is_bent_and_the_rest_stays(beast):
    tail = beast.find_chain("tail")
    part = take_part(beast, tail, "caudal 6", "caudal 4")
    assert part == take_part(beast, tail, "caudal 4", "caudal 6")
    assert part.children == ("caudal 4", "caudal 5", "caudal 6")
    assert (part.base, part.tip, part.name) == ("caudal 3", "caudal 6", "tail, caudal 4 to caudal 6")
    assert take_part(beast, tail, last="caudal 1").children == ("caudal 1",)
    assert take_part(beast, tail, "caudal 10").tip == tail.tip
    assert take_part(beast, tail) is tail
    bent = bend_chain(beast, NEUTRAL, part.children, total_rad=(0.1, 0, 0))
    assert set(bent.pose.angles_rad) == set(part.children)
    with pytest.raises(SkeletonError, match="no joint in tail"):
        take_part(beast, tail, "skull")


def test_a_place_within_reach_is_reached(column, rng):
    for _ in range(10):
        hidden = bend_chain(column, NEUTRAL, "neck", shares=rng.uniform(-0.8, 0.8, 3)).pose
        point = np.array([0.05, 0.0, 0.02])
        place = place_point(column, hidden, "cervical 1", point)
        reached = bend_to(column, NEUTRAL, "neck", place, point)
        assert reached.misses[0] < 2e-3 * column.size_m
        np.testing.assert_allclose(
            np.linalg.norm(place_point(column, reached.pose, "cervical 1", point) - place), reached.misses[0], atol=1e-9
        )
        assert least_inside(column, reached.pose) >= 0


def test_out_of_reach_it_stretches_towards_the_place_inside_every_range(column):
    reached = bend_to(column, NEUTRAL, "neck", (-3.0, 1.0, 5.0))
    assert reached.misses[0] > 1
    assert reached.at_limit
    assert least_inside(column, reached.pose) >= 0


def test_the_head_looks_at_a_place(beast):
    place = np.array([3.0, 0.8, 1.6])
    reached = look_at(beast, NEUTRAL, place)
    assert reached.misses[0] < 1e-3
    skull = beast.skeleton.elements[beast.skeleton.index("skull")]
    X = place_elements(beast.skeleton, reached.pose)[beast.skeleton.index("skull")]
    way = place - (X[:3, :3] @ skull.solid.centre_m + X[:3, 3])
    ahead = X[:3, :3] @ skull.X_WE[:3, :3].T @ [1, 0, 0]
    assert ahead @ way / np.linalg.norm(way) > 1 - 1e-6
    assert least_inside(beast, reached.pose) >= 0


def test_feet_stay_while_the_whole_moves(beast):
    """The hind legs are fixed to the sacrum: held in place they hold it, and the trunk alone goes."""
    goal = PlaceGoal("skull", np.zeros(3), np.array([1.1, 0.1, 1.2]))
    turning = [child for name in ("neck", "trunk") for child in beast.find_chain(name).children]
    reached = reach(beast, NEUTRAL, [goal], turning, held=("hind foot L", "hind foot R"), root=1.0)
    assert reached.slips_m < 2e-3
    assert reached.slips_rad < 2e-3
    assert least_inside(beast, reached.pose) >= 0


@pytest.mark.parametrize("shift", [(0.0, 0.0, -0.3), (0.2, 0.2, 0.0), (0.1, 0.0, -0.1)])
def test_a_drag_goes_on_with_the_whole_while_something_is_held(column, shift):
    """Each call begins with what the one before has left, as between two moves of the mouse that lie far apart."""
    neck, root = column.find_chain("neck"), column.skeleton.root
    start = bend_chain(column, NEUTRAL, "neck", shares=(0.5, 0.2, 0)).pose
    centre = root.solid.centre_m
    here = place_point(column, start, root.name, centre)
    pose = start
    for part in (0, 1, 1, 1):
        goal = PlaceGoal(root.name, centre, here + part * np.array(shift))
        reached = reach(column, pose, [goal], "neck", held=(neck.tip,), root=1.0, start=start)
        pose = reached.pose
    assert reached.misses[0] < 1e-3
    assert reached.slips_m < 2e-3
    assert least_inside(column, pose) >= 0


def test_a_joint_is_held_at_the_end_of_its_range(beast):
    held = hold_joint(beast, "caudal 3", np.radians([0.0, 0.0, 30.0]))
    assert held.held
    assert held.stop.reason == "bone contact"
    np.testing.assert_allclose(held.angles_rad, np.radians([0.0, 0.0, 5.0]))


def test_what_cannot_be_asked_is_said(beast):
    with pytest.raises(SkeletonError, match="no chain has that name"):
        bend_chain(beast, NEUTRAL, "trunk of an elephant", shares=(1, 0, 0))
    with pytest.raises(SkeletonError, match="nothing to reach"):
        reach(beast, NEUTRAL, [], "neck")
    with pytest.raises(SkeletonError, match="no element of that name"):
        look_at(beast, NEUTRAL, (1, 0, 0), "nobody", "neck")
    mounted = Pose("mounted", mounted={"skull": np.eye(4)})
    with pytest.raises(SkeletonError, match="as mounted"):
        bend_chain(beast, mounted, "neck", shares=(0.1, 0, 0))
