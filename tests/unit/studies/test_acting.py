"""The site's actions on a pose, as stability and the joints take them."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.site.actions import PointAction, Wind
from core_calcs.site.site import Site
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.studies import acting
from core_calcs.studies.acting import as_overturning, as_point_forces, list_acting, prepare_outlines

PUSH = PointAction("shove", "push", "skull", (0.1, 0.0, 0.0), 1000.0)
CLIMBER = PointAction("climber", "person", "cervical 3", (0.0, 0.0, 0.03), 2000.0)


@pytest.fixture(scope="module")
def outlines(box_document):
    document, path = box_document
    return prepare_outlines(document.skeleton.elements, path.parent / document.mesh_folder)


def test_nothing_acts_where_nothing_is_said_to(box_document):
    skeleton = box_document[0].skeleton
    found = list_acting(skeleton, place_elements(skeleton, box_document[0].poses[0]), Site())
    assert found.actions == ()
    assert found.unknown == ()


def test_points_go_with_the_pose(box_document):
    document = box_document[0]
    skeleton, site = document.skeleton, Site(actions=(PUSH, CLIMBER), directions=8)
    for pose in document.poses:
        X = place_elements(skeleton, pose)
        shove, climber = list_acting(skeleton, X, site).actions
        i = skeleton.index("skull")
        np.testing.assert_allclose(shove.points_m[:, 0], np.tile(X[i, :3, :3] @ (0.1, 0, 0) + X[i, :3, 3], (8, 1)))
        assert shove.bodies.tolist() == [i]
        assert len(shove.directions) == 8
        np.testing.assert_allclose(climber.whole_N, [[0, 0, -2000]])
    first, second = (list_acting(skeleton, place_elements(skeleton, pose), site) for pose in document.poses)
    assert not np.allclose(first.actions[0].points_m, second.actions[0].points_m)


def test_wind_without_surfaces_is_not_known(box_document):
    document = box_document[0]
    X = place_elements(document.skeleton, document.poses[0])
    found = list_acting(document.skeleton, X, Site(actions=(PUSH,), wind=Wind(800.0)))
    assert [action.name for action in found.actions] == ["shove"]
    assert found.unknown == (("wind", "the elements' surfaces, which its silhouettes are taken from"),)
    assert found.areas is None


def test_wind_of_the_whole_and_of_the_elements_agree(box_document, outlines):
    document = box_document[0]
    skeleton = document.skeleton
    X = place_elements(skeleton, document.poses[1])
    found = list_acting(skeleton, X, Site(wind=Wind(800.0, 1.3), directions=12), outlines)
    (wind,) = found.actions
    np.testing.assert_allclose(np.linalg.norm(wind.whole_N, axis=1), 800 * 1.3 * found.areas.area_m2)
    whole = as_overturning(wind)
    for way in range(12):
        parts = as_point_forces(wind, way)
        assert parts.body.tolist() == list(range(len(skeleton.elements)))
        np.testing.assert_allclose(parts.forces_N.sum(axis=0), whole.forces_N[way], atol=1e-9)
        moments = np.cross(parts.points_m, parts.forces_N).sum(axis=0)
        np.testing.assert_allclose(moments, np.cross(whole.points_m[way], whole.forces_N[way]), atol=1e-9)
    assert found.missing_share == 0


def test_outlines_are_taken_from_before(box_document, outlines, monkeypatch):
    monkeypatch.setattr(acting, "read_element", None)  # nothing is read again
    document, path = box_document
    again = prepare_outlines(document.skeleton.elements, path.parent / document.mesh_folder, outlines)
    assert all(again.bodies[source] is outlines.bodies[source] for source in outlines.bodies)


def test_what_a_light_surface_lacks_is_measured(box_document, monkeypatch):
    """A box of 192 triangles drawn together to 48 has its corners drawn in: it shows less, and that is told."""
    monkeypatch.setattr(acting, "TRIANGLES", 48)
    document, path = box_document
    light = prepare_outlines(document.skeleton.elements[:1], path.parent / document.mesh_folder)
    (share,) = light.missing_share.values()
    body = next(iter(light.bodies.values()))
    assert len(body.normals) - 1 <= 48
    assert 0 < share < 0.6
    X = document.skeleton.elements[0].X_WE[None]
    alone = build_skeleton("one", document.skeleton.elements[:1], ())
    whole = prepare_outlines(document.skeleton.elements[:1], path.parent / document.mesh_folder, light)
    found = list_acting(alone, X, Site(wind=Wind(1.0), directions=4), whole)
    assert found.missing_share == share
    # 0.12 × 0.12 m seen from the front, less what the light surface lacks.
    assert (1 - share) * 0.12**2 * 0.999 <= found.areas.area_m2[0] <= 0.12**2 * 1.001
