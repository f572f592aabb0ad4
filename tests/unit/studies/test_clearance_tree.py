"""Clearance of a made-up tree of a hundred lumps: dragging joint after joint comes to what trying afresh does, and fcl
says the same of every pair.
"""

from __future__ import annotations

from dataclasses import replace

import fcl
import numpy as np
import pytest
import trimesh

from core_calcs.mesh.reading import hash_file
from core_calcs.skeleton.element import Source
from core_calcs.skeleton.pose import Pose
from core_calcs.spatial.transforms import apply, invert
from core_calcs.studies.clearance import prepare_clearance, try_pose
from tests.unit.mesh.test_clearance_peer import make_model, wind

COUNT = 100


@pytest.fixture(scope="module")
def tree(tmp_path_factory, random_skeletons):
    """Lumps about 0.3 m apart, each in a file of its own."""
    folder, rng = tmp_path_factory.mktemp("lumps"), np.random.default_rng(5)
    skeleton = random_skeletons.make_random_skeleton(COUNT, rng)
    ball, elements = trimesh.creation.icosphere(2), []
    for element in skeleton.elements:
        half = (element.solid.upper_m - element.solid.lower_m) / 2
        bumps = 1 + 0.15 * np.sin(4 * ball.vertices @ rng.normal(size=3))
        lump = trimesh.Trimesh(ball.vertices * bumps[:, None] * half + element.solid.centre_m, ball.faces)
        lump.export(folder / f"{element.name}.stl")
        source = Source(f"{element.name}.stl", None, 1.0, hash_file(folder / f"{element.name}.stl"))
        elements.append(
            replace(element, source=source, solid=replace(element.solid, volume_m3=abs(float(lump.volume))))
        )
    return prepare_clearance(replace(skeleton, elements=tuple(elements)), folder)


@pytest.fixture(scope="module")
def pose(tree, random_skeletons):
    return random_skeletons.make_random_pose(tree.skeleton, np.random.default_rng(6), 0.4)


def test_drag_after_drag_comes_to_what_trying_afresh_does(tree, pose):
    rng, tried = np.random.default_rng(8), try_pose(tree, pose)
    for _ in range(12):
        child = tree.skeleton.joints[int(rng.integers(COUNT - 1))].child
        pose = Pose("dragged", {**pose.angles_rad, child: pose.angles_rad[child] + rng.normal(size=3) * 0.2})
        tried = try_pose(tree, pose, tried)
    afresh = try_pose(tree, pose)
    assert len(afresh.overlaps.pairs) > 5
    assert tried.overlaps.pairs.tolist() == afresh.overlaps.pairs.tolist()
    np.testing.assert_allclose(tried.overlaps.depths_m, afresh.overlaps.depths_m, atol=1e-9)
    np.testing.assert_allclose(tried.overlaps.places_W, afresh.overlaps.places_W, atol=1e-9)


def test_fcl_says_the_same_of_every_pair(tree, pose):
    """Of pairs that are clear at neutral: others are forgiven what fcl counts."""
    neutral, tried = try_pose(tree, Pose("neutral")), try_pose(tree, pose)
    before, after = (make_objects(tree, own.motions) for own in (neutral, tried))
    pairs = tried.overlaps.pairs.tolist()
    found = {tuple(pair): depth for pair, depth in zip(pairs, tried.overlaps.depths_m, strict=True)}
    hit = 0
    for i in range(COUNT):
        for j in range(i + 1, COUNT):
            if not cuts(before[i], before[j]):
                cut, depth = cuts(after[i], after[j]), float(found.get((i, j), 0.0))
                hit += cut
                shallow = depth < 0.02 * tree.crowd.sizes_m[[i, j]].max()
                assert cut == (depth > 0) or shallow or lies_inside(tree, tried.motions, i, j), (i, j)
    assert hit > 5


def lies_inside(tree, motions, i, j):
    """Whether every vertex of the one of two lumps is inside the other: their surfaces cut nothing then."""
    X = motions @ tree.X_WE @ tree.crowd.X_EB
    for one, other in ((i, j), (j, i)):
        inner, outer = (tree.crowd.bodies[k].surface_B for k in (one, other))
        points = apply(invert(X[other]) @ X[one], inner.vertices)
        if all(abs(wind(outer.vertices[outer.faces], point)) > 0.5 for point in points):
            return True
    return False


def make_objects(tree, motions):
    places = motions @ tree.X_WE @ tree.crowd.X_EB
    return [
        fcl.CollisionObject(make_model(body), fcl.Transform(X[:3, :3].copy(), X[:3, 3].copy()))
        for body, X in zip(tree.crowd.bodies, places, strict=True)
    ]


def cuts(one, other):
    return fcl.collide(one, other, fcl.CollisionRequest(), fcl.CollisionResult()) > 0
