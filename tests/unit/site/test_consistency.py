"""What is said of the site is refused where it cannot be, with what is wrong and what to do."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core_calcs.site.actions import Factors, Footing, PointAction, Wind
from core_calcs.site.consistency import check_site, keep_footings, propose_action_name
from core_calcs.site.site import Site
from core_calcs.spatial.errors import SiteError

PUSH = PointAction("shove", "push", "trunk", (0.0, 0.0, 0.0), 1500.0)


@pytest.fixture
def skeleton(box_document):
    return box_document[0].skeleton


def on_trunk(skeleton, **changes):
    trunk = skeleton.elements[0]
    middle = tuple(((trunk.solid.lower_m + trunk.solid.upper_m) / 2).tolist())
    return replace(PUSH, element=trunk.name, point_m=middle, **changes)


def test_a_site_that_says_nothing_is_right(skeleton):
    check_site(Site(), skeleton)


def test_a_full_site_is_right(skeleton):
    footing = Footing(skeleton.feet[0].name, -0.02, 2e6, 0.4, True, 5e3)
    actions = (
        on_trunk(skeleton),
        on_trunk(skeleton, name="rope", kind="pull", direction=(0.6, 0.0, -0.8)),
        on_trunk(skeleton, name="climber", kind="person"),
    )
    check_site(Site(friction=0.0, footings=(footing,), actions=actions, wind=Wind(0.0), directions=8), skeleton)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"name": " "}, "action: its name is empty. Give it a name"),
        ({"kind": "kick"}, "'kick' is no kind of action. Give one of: push, pull, person"),
        ({"force_N": 0.0}, "action shove: force: it is 0. Give a force above 0"),
        ({"force_N": float("nan")}, "action shove: force: it is nan"),
        ({"direction": (0.0, 0.0, 0.0)}, "its direction has the length 0. Give a unit vector"),
        ({"kind": "person", "direction": (0.0, 0.0, -1.0)}, "a person's weight acts straight down. Give no direction"),
    ],
)
def test_actions_that_cannot_be(skeleton, changes, told):
    with pytest.raises(SiteError, match=told):
        check_site(Site(actions=(on_trunk(skeleton, **changes),)), skeleton)


def test_an_element_that_is_not_there(skeleton):
    with pytest.raises(SiteError, match=r"action shove: there is no element 'nobody'\. Check the spelling"):
        check_site(Site(actions=(replace(PUSH, element="nobody"),)), skeleton)


def test_a_point_is_on_its_element_or_near_it(skeleton):
    trunk = skeleton.elements[0]
    size = float(((trunk.solid.upper_m - trunk.solid.lower_m) ** 2).sum() ** 0.5)
    x, y, z = trunk.solid.upper_m.tolist()
    near, far = ((x, y, z + share * size) for share in (0.99, 1.01))
    check_site(Site(actions=(replace(PUSH, element=trunk.name, point_m=near),)), skeleton)
    with pytest.raises(SiteError, match=f"its point is .* m off {trunk.name}, which is .* m large. Give a point on"):
        check_site(Site(actions=(replace(PUSH, element=trunk.name, point_m=far),)), skeleton)
    with pytest.raises(SiteError, match="its point is not finite"):
        check_site(Site(actions=(replace(PUSH, element=trunk.name, point_m=(float("nan"), 0, 0)),)), skeleton)


@pytest.mark.parametrize(
    ("site", "told"),
    [
        (Site(friction=-0.1), "friction: it is -0.1. Give a coefficient of 0 or more"),
        (Site(directions=3), "directions: there are 3 of them. Give 4 to 360"),
        (Site(wind=Wind(-1.0)), "wind pressure: it is -1. Give the peak velocity pressure"),
        (Site(wind=Wind(800.0, 0.0)), "force coefficient of the wind: it is 0. Give 1.2"),
        (Site(factors=Factors(permanent_against=0.0)), "factor permanent against: it is 0. Give a factor above 0"),
        (Site(factors=Factors(permanent_for=-1.0)), "factor permanent for: it is -1"),
        (Site(factors=Factors(variable_against=0.0)), "factor variable against: it is 0"),
        (Site(factors=Factors(resistance=0.0)), "factor resistance: it is 0"),
        (Site(factors=Factors(reduction=1.1)), "factor reduction: 1.1 does not reduce. Give more than 0 up to 1"),
        (Site(factors=Factors(strength_for=0.0)), "factor strength for: it is 0. Give a factor above 0"),
        (Site(factors=Factors(accompanying=1.5)), "factor accompanying: 1.5 is no share. Give 0 to 1"),
        (Site(footings=(Footing("nobody"),)), "footing of nobody: nothing of that name touches the ground"),
    ],
)
def test_sites_that_cannot_be(skeleton, site, told):
    with pytest.raises(SiteError, match=told):
        check_site(site, skeleton)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"height_m": float("inf")}, "its height is inf"),
        ({"stiffness_N_m": 0.0}, "stiffness: it is 0"),
        ({"friction": -1.0}, "friction: it is -1"),
        ({"anchored": True, "anchor_N": 0.0}, "tension of its anchors: it is 0"),
        ({"anchor_N": 10.0}, "its anchors hold a tension, but it is not anchored. Anchor it, or give none"),
    ],
)
def test_footings_that_cannot_be(skeleton, changes, told):
    footing = replace(Footing(skeleton.feet[0].name), **changes)
    with pytest.raises(SiteError, match=told):
        check_site(Site(footings=(footing,)), skeleton)


def test_a_name_is_there_once(skeleton):
    foot = Footing(skeleton.feet[0].name)
    with pytest.raises(SiteError, match=f"footing of {foot.foot}: it is there twice"):
        check_site(Site(footings=(foot, foot)), skeleton)
    with pytest.raises(SiteError, match="action shove: it is there twice"):
        check_site(Site(actions=(on_trunk(skeleton), on_trunk(skeleton))), skeleton)


def test_names_that_are_free(skeleton):
    assert propose_action_name(Site(), "push", "C1") == "push on C1"
    taken = Site(actions=(replace(PUSH, name="push on C1"), replace(PUSH, name="push on C1 2")))
    assert propose_action_name(taken, "push", "C1") == "push on C1 3"


def test_footings_of_feet_that_have_gone(skeleton):
    site = Site(footings=(Footing(skeleton.feet[0].name), Footing("gone")))
    assert [own.foot for own in keep_footings(site, skeleton.feet)] == [skeleton.feet[0].name]
