"""Discs and steelwork: what they weigh, where, and who carries them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core_calcs.build.build import Build, Casting, Disc, ElementCasting, Material, Steelwork
from core_calcs.build.parts import find_chain, join_bodies, list_parts
from core_calcs.build.uncertainty import list_uncertainties
from core_calcs.build.weights import weigh_elements
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import Facet
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Skeleton, build_skeleton
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.transforms import make_transform
from core_calcs.studies.assess import assess

BRONZE = Material("bronze", 8000.0, 160.0, "made up")
RUBBER = Material("rubber", 1200.0, 60.0, "made up")
DISC = Disc("b", RUBBER, 0.01, 0.002, 0.02)


@pytest.fixture
def skeleton(random_skeletons) -> Skeleton:
    """Cubes in a row along x, a metre apart, joints half-way; c hangs on b, d on a's other side."""
    solid = random_skeletons.make_solid(1e-3, np.zeros(3), np.full(3, 0.05))
    places = {"a": 0.0, "b": 1.0, "c": 2.0, "d": -1.0}
    elements = [
        random_skeletons.make_element(n, solid, make_transform(np.eye(3), [x, 0, 1])) for n, x in places.items()
    ]
    joints = []
    for parent, child in (("a", "b"), ("b", "c"), ("a", "d")):
        middle = (places[parent] + places[child]) / 2
        joint = random_skeletons.make_joint(parent, child, make_transform(np.eye(3), [middle, 0, 1]))
        towards = np.sign(places[child] - places[parent])
        facet = Facet(
            "centrum", parent, np.array([middle - 0.02 * towards, 0, 1.1]), towards * np.eye(3)[0], 0.02, 0.04
        )
        joints.append(replace(joint, facets=(facet,)))
    return build_skeleton("row", tuple(elements), tuple(joints), ())


def test_a_disc_fills_the_gap_between_its_facets(skeleton: Skeleton) -> None:
    part = list_parts(skeleton, Build(BRONZE, discs=(DISC,)))[0]
    assert part.mass_kg == pytest.approx(1200 * 0.01 * 0.02)
    np.testing.assert_allclose(part.centre_m, [0.5, 0, 1.1])
    assert skeleton.elements[part.body].name == "b"
    square = 0.02 / np.pi
    expected = part.mass_kg * np.array([square / 2, square / 4 + 1e-4 / 12, square / 4 + 1e-4 / 12])
    np.testing.assert_allclose(part.inertia_kg_m2, np.diag(expected), atol=1e-15)


def test_without_facets_it_sits_at_the_joint(skeleton: Skeleton) -> None:
    bare = tuple(replace(joint, facets=()) for joint in skeleton.joints)
    part = list_parts(replace(skeleton, joints=bare), Build(BRONZE, discs=(DISC,)))[0]
    np.testing.assert_allclose(part.centre_m, [0.5, 0, 1])


def test_uncertainty_of_a_disc_is_the_sum_of_its_sources(skeleton: Skeleton) -> None:
    part = list_parts(skeleton, Build(BRONZE, discs=(DISC,), scale_uncertainty_share=0.01))[0]
    shares = 60 / 1200 + 0.002 / 0.01 + 0.1 + 2 * 0.01
    assert part.uncertainty_kg == pytest.approx(shares * part.mass_kg)
    weighed = replace(DISC, weighed_kg=0.5, weighed_uncertainty_kg=0.01)
    part = list_parts(skeleton, Build(BRONZE, discs=(weighed,), scale_uncertainty_share=0.01))[0]
    assert (part.mass_kg, part.uncertainty_kg, part.weighed) == (0.5, 0.01, True)


STEEL = Steelwork("column", "d", "c", "CHS", 5.0, 0.3, "made up")


def test_steel_runs_from_centre_through_joints_to_centre(skeleton: Skeleton) -> None:
    parts = list_parts(skeleton, Build(BRONZE, steelwork=(STEEL,)))
    names = [skeleton.elements[part.body].name for part in parts]
    assert names == ["d", "a", "b", "c"]
    assert [part.mass_kg for part in parts] == pytest.approx([2.5, 5.0, 5.0, 2.5])
    np.testing.assert_allclose([part.centre_m[0] for part in parts], [-0.75, 0, 1, 1.75], atol=1e-12)
    np.testing.assert_allclose(parts[1].inertia_kg_m2, np.diag([0, 5 / 12, 5 / 12]), atol=1e-12)
    assert sum(part.uncertainty_kg for part in parts) == pytest.approx(0.3 * 3)


def test_a_length_given_is_shared_out_along_the_way(skeleton: Skeleton) -> None:
    build = Build(BRONZE, steelwork=(replace(STEEL, length_m=6.0),), scale_uncertainty_share=0.01)
    parts = list_parts(skeleton, build)
    assert [part.mass_kg for part in parts] == pytest.approx([5, 10, 10, 5])
    assert all(part.scale_kg == 0 for part in parts)
    inside = list_parts(skeleton, Build(BRONZE, steelwork=(replace(STEEL, end="d", length_m=0.4),)))
    assert [part.mass_kg for part in inside] == pytest.approx([2.0])
    with pytest.raises(SkeletonError, match="no joint tells its length"):
        list_parts(skeleton, Build(BRONZE, steelwork=(replace(STEEL, end="d"),)))


def test_chains_go_up_and_down_the_tree(skeleton: Skeleton) -> None:
    def names(start: str, end: str) -> str:
        return "".join(skeleton.elements[i].name for i in find_chain(skeleton, start, end))

    assert [names("c", "d"), names("a", "c"), names("c", "a"), names("b", "b")] == ["cbad", "abc", "cba", "b"]


def test_bodies_are_the_sum_of_point_masses(skeleton: Skeleton) -> None:
    """Mass, first and second moments about the origin add up, whatever the pieces are."""
    build = Build(BRONZE, discs=(DISC,), steelwork=(STEEL,))
    weights, parts = weigh_elements(skeleton, build), list_parts(skeleton, build)
    bodies = join_bodies(weights, parts)

    def second(mass, centre, inertia):
        return inertia + mass * (centre @ centre * np.eye(3) - np.outer(centre, centre))

    for i in range(4):
        own = [part for part in parts if part.body == i]
        pieces = [(weights.mass_kg[i], weights.centre_m[i], weights.inertia_kg_m2[i])]
        pieces += [(part.mass_kg, part.centre_m, part.inertia_kg_m2) for part in own]
        assert bodies.mass_kg[i] == pytest.approx(sum(piece[0] for piece in pieces))
        assert bodies.uncertainty_kg[i] == pytest.approx(
            weights.uncertainty_kg[i] + sum(part.uncertainty_kg for part in own)
        )
        moment = sum(piece[0] * piece[1] for piece in pieces)
        np.testing.assert_allclose(bodies.mass_kg[i] * bodies.centre_m[i], moment, atol=1e-12)
        expected = sum(second(*piece) for piece in pieces)
        found = second(bodies.mass_kg[i], bodies.centre_m[i], bodies.inertia_kg_m2[i])
        np.testing.assert_allclose(found, expected, atol=1e-10)


def test_parts_go_with_their_elements_in_a_pose(skeleton: Skeleton) -> None:
    """Joint b turned by a quarter: its disc and steel turn about the joint with it; the whole's centre says so."""
    build = Build(BRONZE, discs=(DISC,), steelwork=(STEEL,))
    turned = Pose("turned", {"b": np.array([0.0, 0.0, np.pi / 2])})
    found = assess(skeleton, turned, build, Site())
    disc = next(part for part in found.parts if part.kind == "disc")
    np.testing.assert_allclose(disc.centre_m, [0.6, 0, 1.0], atol=1e-9)  # its facets lie .1 above the joint
    pieces = [(mass.mass_kg, mass.centre_m) for mass in found.masses]
    pieces += [(part.mass_kg, part.centre_m) for part in found.parts]
    total = sum(mass for mass, _ in pieces)
    assert found.mass_kg == pytest.approx(total)
    np.testing.assert_allclose(found.centre_m, sum(mass * centre for mass, centre in pieces) / total, atol=1e-12)
    joint = next(load for load in found.joints if load.child == "b")
    carried = sum(mass.mass_kg for mass in found.masses if mass.element in "bc")
    carried += sum(part.mass_kg for part in found.parts if part.element in "bc")
    assert joint.force_N[2] == pytest.approx(-carried * 9.80665)


def test_materials_of_elements_are_sources_of_their_own(skeleton: Skeleton) -> None:
    """Two materials: each density errs for its own elements alone, and the sum of all uncertainties is the mass's."""
    bone = Material("bone", 1300.0, 400.0, "made up")
    castings = (ElementCasting("b", Casting("bone", material=bone)), ElementCasting("c", Casting(material=bone)))
    build = Build(BRONZE, element_castings=castings, discs=(DISC,), steelwork=(STEEL,), scale_uncertainty_share=0.01)
    weights, parts = weigh_elements(skeleton, build), list_parts(skeleton, build)
    np.testing.assert_allclose(weights.mass_kg, [8, 1.3, 1.3, 8])
    uncertainties = list_uncertainties(skeleton, build, weights, parts)
    sources = sorted(uncertainties.common_kg.sum(axis=1).round(9).tolist())
    density = [2 * 160e-3, 2 * 400e-3, 0.24 * 60 / 1200, 0.3 * 3]
    scale = 0.01 * (3 * 18.6 + 2 * 0.24 + 15)
    assert sources == pytest.approx(sorted([*density, 0.0, scale]))
    whole = float(join_bodies(weights, parts).uncertainty_kg.sum())
    assert uncertainties.common_kg.sum() + uncertainties.own_kg.sum() == pytest.approx(
        whole, rel=0.02
    )  # of second order
