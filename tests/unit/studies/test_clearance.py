"""What runs into what in a pose: partners and strangers, what stands still, what is known of before."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.reading import hash_file
from core_calcs.site.site import Site
from core_calcs.skeleton.element import Element, Source
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.errors import DocumentError
from core_calcs.spatial.progress import ignore_progress
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.checks import check_clearance
from core_calcs.studies.clearance import find_clearance, list_hits, prepare_clearance, try_pose

LENGTH, WIDTH = 0.3, 0.06
"""Of a rod; its size s is the cube root of .3 × .06 × .06: .1026 m."""
SIZE = float(np.cbrt(LENGTH * WIDTH**2))
GAP = 0.01
PLACES = {
    "thigh": (0, 0, 0),
    "shank": (LENGTH + GAP, 0, 0),
    "foot": (2 * (LENGTH + GAP), 0, 0),
    "plate": (0, 0, 0.065),
    "post": (0.2, 0, -0.5),
}
"""Middles of rods along x; the plate is fixed to the thigh and cuts nothing of it."""


@pytest.fixture
def make_leg(tmp_path, random_skeletons):
    """A limb of three rods in line that bend upwards in the gaps, with a plate fixed beside, and a lone post."""

    def make(overlap=0.0, **settings):
        elements, joints = [], []
        for name, place in PLACES.items():
            mesh = trimesh.creation.box((LENGTH, WIDTH, WIDTH))
            mesh.export(tmp_path / f"{name}.stl")
            x = place[0] - overlap * (place[0] > 0.25)
            solid = random_skeletons.make_solid(LENGTH * WIDTH**2, np.zeros(3), np.array([LENGTH, WIDTH, WIDTH]) / 2)
            source = Source(f"{name}.stl", None, 1.0, hash_file(tmp_path / f"{name}.stl"))
            X = make_transform(np.eye(3), (x, *place[1:]))
            elements.append(Element(name, "other", None, "middle", "not known", source, solid, X))
        # x of the joint's frame, its flexion axis, along -y of the world: flexion bends upwards.
        R = np.array([[0, 1, 0], [-1, 0, 0], [0, 0, 1]], float)
        for parent, child, x in (("thigh", "shank", 0.155), ("shank", "foot", 0.465), ("thigh", "post", 0.0)):
            joint = random_skeletons.make_joint(parent, child, make_transform(R, (x, 0, 0)))
            joints.append(replace(joint, settings=LimitSettings(**settings)))
        fixed = random_skeletons.make_joint("thigh", "plate", make_transform(R, (0, 0, 0.065)))
        joints.append(replace(fixed, kind="fixed", reason="made up"))
        return build_skeleton("leg", tuple(elements), tuple(joints))

    return make


def bend(shank=0.0, foot=0.0, post=0.0):
    angles = {"shank": shank, "foot": foot, "post": post}
    return Pose("bent", {name: np.array([np.radians(angle), 0, 0]) for name, angle in angles.items()})


def pairs_of(clearance):
    return {frozenset(hit.elements): hit for hit in clearance.hits}


def test_nothing_is_hit_at_neutral(make_leg, tmp_path):
    found = find_clearance(prepare_clearance(make_leg(), tmp_path), Pose("neutral"), Site())
    assert found.hits == ()
    assert check_clearance(found).state == "holds"


def test_nobody_has_looked():
    check = check_clearance(None)
    assert (check.state, check.figure) == ("not known", None)
    assert "surfaces" in check.missing


def test_a_folded_limb_runs_into_itself(make_leg, tmp_path):
    """The foot comes down on the plate beside the thigh: no joint holds the two together."""
    prepared = prepare_clearance(make_leg(), tmp_path)
    clear = pairs_of(find_clearance(prepared, bend(90, 120), Site()))
    assert frozenset(("foot", "plate")) not in clear
    found = find_clearance(prepared, bend(90, 135), Site())
    hit = pairs_of(found)[frozenset(("foot", "plate"))]
    assert hit.fails
    assert hit.allowed_m == pytest.approx(0.02 * SIZE, rel=0.01)
    check = check_clearance(found)
    assert (check.state, check.figure, check.limit) == ("fails", found.hits[0].depth_m, found.hits[0].allowed_m)
    assert set(check.place.split(" and ")[0].split(" – ")) == set(found.hits[0].elements)


def test_a_place_is_the_same_in_the_world_and_in_both_elements(make_leg, tmp_path):
    skeleton = make_leg()
    prepared, pose = prepare_clearance(skeleton, tmp_path), bend(90, 135)
    tried = try_pose(prepared, pose)
    for hit in list_hits(prepared, tried, Site()).hits:
        for name, place in zip(hit.elements, hit.places_m, strict=True):
            i = skeleton.index(name)
            world = tried.motions[i] @ skeleton.elements[i].X_WE @ np.append(place, 1)
            np.testing.assert_allclose(world[:3], hit.place_m, atol=1e-12)
            assert (np.abs(place) <= np.array([LENGTH, WIDTH, WIDTH]) / 2 + 0.02 * SIZE).all()


def test_partners_are_allowed_what_their_limits_are(make_leg, tmp_path):
    """The end faces, a gap apart, meet above: a point at height z of the one is as deep in the other as it is behind
    its end face, or below its upper face where that is nearer; deepest where the two are the same."""
    cos, sin, half = np.cos(np.radians(40)), np.sin(np.radians(40)), GAP / 2
    height = (WIDTH / 2 - half * sin + half + half * cos) / (sin + cos)
    depth = height * sin - half - half * cos
    strict = prepare_clearance(make_leg(contact_share_s=0.02, slide_share_s=0.0), tmp_path)
    hit = pairs_of(find_clearance(strict, bend(40), Site()))[frozenset(("thigh", "shank"))]
    assert hit.depth_m == pytest.approx(depth, abs=0.02 * SIZE)
    assert hit.allowed_m == pytest.approx(0.02 * SIZE, rel=0.01)
    lenient = prepare_clearance(make_leg(contact_share_s=0.1, slide_share_s=0.05), tmp_path)
    assert frozenset(("thigh", "shank")) not in pairs_of(find_clearance(lenient, bend(40), Site(clearance_share_s=0.0)))


def test_what_overlaps_at_neutral_counts_only_beyond_that(make_leg, tmp_path):
    """The rods telescope into each other by 20 mm: fused scans."""
    prepared = prepare_clearance(make_leg(overlap=0.03, contact_share_s=0.0, slide_share_s=0.0), tmp_path)
    assert find_clearance(prepared, Pose("neutral"), Site()).hits == ()
    hit = pairs_of(find_clearance(prepared, bend(30), Site()))[frozenset(("thigh", "shank"))]
    assert 0 < hit.depth_m < WIDTH / 2 - hit.neutral_m
    assert hit.neutral_m == pytest.approx(0.02, abs=0.011)  # deepest at the middle of the ends, less at their rims


def test_within_the_allowance_it_is_close(make_leg, tmp_path):
    prepared, pose = prepare_clearance(make_leg(), tmp_path), bend(90, 135)
    found = find_clearance(prepared, pose, Site(clearance_share_s=1.0))
    assert not any("plate" in hit.elements and hit.fails for hit in found.hits)
    strangers = [hit for hit in found.hits if set(hit.elements) == {"foot", "plate"}]
    assert len(strangers) == 1
    assert check_clearance(replace(found, hits=tuple(strangers))).state == "close"


def test_what_is_fixed_together_is_not_tried(make_leg, tmp_path):
    skeleton = make_leg()
    elements = tuple(
        replace(own, X_WE=make_transform(np.eye(3), (0, 0, 0.02))) if own.name == "plate" else own
        for own in skeleton.elements
    )
    prepared = prepare_clearance(replace(skeleton, elements=elements), tmp_path)
    for tried in (prepared.baseline.keys, find_clearance(prepared, Pose("neutral"), Site()).hits):
        assert len(tried) == 0


def test_only_what_moved_is_tried_again_and_the_outcome_is_the_same(make_leg, tmp_path, monkeypatch):
    prepared = prepare_clearance(make_leg(), tmp_path)
    first = try_pose(prepared, bend(90, 135))
    tried = []
    module = __import__("core_calcs.studies.clearance", fromlist=["find_overlaps"])
    real = module.find_overlaps
    monkeypatch.setattr(module, "find_overlaps", lambda *a: (tried.append(a[2].tolist()), real(*a))[1])
    again = try_pose(prepared, bend(90, 135, 30), first)
    i = prepared.skeleton.index("post")
    assert all(i in pair for pair in tried[0])
    afresh = try_pose(prepared, bend(90, 135, 30))
    assert again.overlaps.pairs.tolist() == afresh.overlaps.pairs.tolist()
    np.testing.assert_allclose(again.overlaps.depths_m, afresh.overlaps.depths_m, atol=1e-12)
    np.testing.assert_allclose(again.overlaps.places_W, afresh.overlaps.places_W, atol=1e-12)


def test_the_whole_moved_carries_the_places_along(make_leg, tmp_path):
    prepared, pose = prepare_clearance(make_leg(), tmp_path), bend(90, 135)
    whole = make_transform([[0, -1, 0], [1, 0, 0], [0, 0, 1]], (3, 4, 5))
    again = try_pose(prepared, replace(pose, X_WN=whole), try_pose(prepared, pose))
    afresh = try_pose(prepared, replace(pose, X_WN=whole))
    np.testing.assert_allclose(again.overlaps.places_W, afresh.overlaps.places_W, atol=1e-9)
    np.testing.assert_allclose(again.motions, afresh.motions)


def test_what_was_prepared_before_is_not_read_again(make_leg, tmp_path):
    skeleton = make_leg()
    first, told = prepare_clearance(skeleton, tmp_path), []
    for file in tmp_path.glob("*.stl"):
        file.unlink()
    again = prepare_clearance(skeleton, tmp_path, first, lambda doing, _share: told.append(doing))
    assert all(a is b for a, b in zip(again.crowd.bodies, first.crowd.bodies, strict=True))
    assert told == ["what overlaps at neutral"]


def test_a_missing_or_changed_file_is_told(make_leg, tmp_path):
    skeleton = make_leg()
    (tmp_path / "post.stl").unlink()
    with (tmp_path / "foot.stl").open("ab") as file:
        file.write(b"more")
    with pytest.raises(DocumentError, match=r"does not hold post\.stl; its foot\.stl are not the files"):
        prepare_clearance(skeleton, tmp_path, None, ignore_progress)
