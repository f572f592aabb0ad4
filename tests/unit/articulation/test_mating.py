"""Made-up vertebrae scattered anywhere and mated by their facets: where they belong is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core_calcs.articulation.column import column_axes
from core_calcs.articulation.facets import find_facets
from core_calcs.articulation.known_facets import find_own_midplane
from core_calcs.articulation.mating import mate
from core_calcs.articulation.midplanes import find_midplane
from core_calcs.articulation.motions import move_patch, move_rigidly
from core_calcs.articulation.rim_heights import RimHeights, measure_heights
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.transforms import apply, make_transform

GAPS = {"centrum": 0.1, "left zygapophysis": 0.04, "right zygapophysis": 0.04}
"""Of the made-up column."""


@pytest.fixture(scope="module")
def column(shapes):
    """Two vertebrae, the facets by which they meet (headward first) and their middle planes."""
    head, tail = shapes.prepare("V1", shapes.make_vertebra(0.5)), shapes.prepare("V2", shapes.make_vertebra(-0.5))
    found = find_facets(head, tail, column_axes(head.centre, tail.centre))
    assert len(found.pairs) == 3
    planes = tuple(find_midplane(element, np.array([0.1, 1.0, -0.1])) for element in (head, tail))
    return found.pairs, planes


def scatter(pairs, planes, rng):
    """The second element thrown anywhere: facets and middle plane with it; and the motion that brings it back."""
    S = make_transform(Rotation.random(random_state=rng.integers(2**31)).as_matrix(), rng.normal(size=3) * 5)
    away = move_rigidly(pairs[0][1].element, S)
    return [(stand, move_patch(move, away, S)) for stand, move in pairs], (planes[0], planes[1].move(S)), S


def measure_error(D, S, element):
    """How far an element ends from where it was [m], and how far it is turned [deg]."""
    back = D @ S
    off = np.linalg.norm(apply(back, element.centre[None])[0] - element.centre)
    return float(off), float(np.degrees(Rotation.from_matrix(back[:3, :3]).magnitude()))


def crop(patch, rng, share):
    """A facet that lacks a share of its samples on one side, as a hand may leave them out."""
    points = patch.element.samples.points[patch.index]
    along = points @ rng.normal(size=3)
    return replace(patch, index=patch.index[along >= np.quantile(along, share)], fine=None)


@pytest.mark.parametrize("seed", range(4))
def test_an_element_thrown_anywhere_comes_back(column, seed):
    pairs, planes = column
    thrown, moved, S = scatter(pairs, planes, np.random.default_rng(seed))
    mated = mate(thrown, [GAPS[stand.kind] for stand, _ in pairs], moved)
    off, turned = measure_error(mated.D, S, pairs[0][1].element)
    assert off < 0.01
    assert turned < 0.5
    assert mated.gaps_m == pytest.approx([GAPS[stand.kind] for stand, _ in pairs], abs=2e-3)
    assert max(mated.leaning_rad) < np.radians(1)


def test_the_gap_wanted_is_the_gap_had(column):
    pairs, planes = column
    thrown, moved, S = scatter(pairs, planes, np.random.default_rng(1))
    for gap in (0.0, 0.2):
        mated = mate(thrown, [gap if stand.kind == "centrum" else None for stand, _ in pairs], moved)
        assert mated.gaps_m[0] == pytest.approx(gap, abs=5e-3)
        along = apply(mated.D @ S, pairs[0][1].element.centre[None])[0] - pairs[0][1].element.centre
        assert along[0] == pytest.approx(0.1 - gap, abs=0.02)


def test_the_middle_planes_keep_cropped_facets_from_turning_it(column):
    """Without them a facet that was painted short on one side turns the element: they are what the planes are for."""
    pairs, planes = column
    errors = {True: [], False: []}
    for seed in range(6):
        rng = np.random.default_rng(seed)
        cropped = [(crop(stand, rng, 0.2), crop(move, rng, 0.2)) for stand, move in pairs]
        thrown, moved, S = scatter(cropped, planes, rng)
        for used in errors:
            mated = mate(thrown, [GAPS[stand.kind] for stand, _ in pairs], moved if used else None)
            errors[used].append(measure_error(mated.D, S, pairs[0][1].element)[1])
    assert np.median(errors[True]) < 0.7 * np.median(errors[False])
    assert np.median(errors[True]) < 2.0


def test_end_plates_and_middle_planes_alone_tell_it_too(column):
    """Back from belly by likeness: these vertebrae are alike."""
    pairs, planes = column
    thrown, moved, S = scatter(pairs[:1], planes, np.random.default_rng(7))
    unsided = replace(moved[1], sided=False)
    turned_over = replace(unsided, normal=-moved[1].normal)
    for plane in (unsided, turned_over):
        mated = mate(thrown, [0.1], (moved[0], plane))
        off, turned = measure_error(mated.D, S, pairs[0][1].element)
        assert off < 0.02
        assert turned < 1.0


def test_one_facet_alone_does_not_tell_how_it_is_turned(column):
    pairs, _ = column
    with pytest.raises(SkeletonError, match="V2: its facets do not tell"):
        mate(pairs[:1], [0.1])
    with pytest.raises(SkeletonError):
        mate([], [])


PLATE_Z = 0.3
"""Half the height of the made-up end plates, about the axis of the column [m]."""


def bend(pairs, degrees):
    """The tail element bent about an axis from side to side through the middle of the disc, its facets with it."""
    middle = (pairs[0][0].points.mean(axis=0) + pairs[0][1].points.mean(axis=0)) / 2
    R = Rotation.from_euler("y", degrees, degrees=True).as_matrix()
    B = make_transform(R, middle - R @ middle)
    bent = move_rigidly(pairs[0][1].element, B)
    return [(stand, move_patch(move, bent, B)) for stand, move in pairs]


def find_planes(pairs):
    """With the backs that zygapophyses tell."""
    return tuple(find_own_midplane(pairs[0][k].element, [{pair[k].kind: pair[k] for pair in pairs}]) for k in (0, 1))


@pytest.mark.parametrize("degrees", [-8.0, 0.0, 8.0])
def test_heights_are_those_of_a_wedge(column, degrees):
    """Of two flat plates, bent about their middle: by the closed form, at the rims' places."""
    pairs = bend(column[0], degrees)
    heights = measure_heights(*pairs[0], np.array([0.2, 0.0, 1.0]))
    # Turned about y by a positive angle the tail's back comes nearer to the head.
    half = np.radians(degrees) / 2
    reach = 2 * PLATE_Z * np.sin(half)
    assert heights.ventral_m - heights.dorsal_m == pytest.approx(2 * reach, abs=6e-3)
    assert heights.mean_m == pytest.approx(GAPS["centrum"] * np.cos(half), abs=3e-3)


@pytest.mark.parametrize("degrees", [-8.0, 8.0])
@pytest.mark.parametrize("zygapophyses", [True, False])
def test_a_wedge_wanted_is_the_wedge_had(column, degrees, zygapophyses):
    """The bent element comes back by its disc's heights; by one figure it does not, its zygapophyses not told."""
    pairs = bend(column[0], degrees)
    heights = measure_heights(*pairs[0], np.array([0.0, 0.0, 1.0]))
    thrown, planes, S = scatter(pairs, find_planes(pairs), np.random.default_rng(5))
    few = thrown if zygapophyses else thrown[:1]
    mated = mate(few, [heights, None, None][: len(few)], planes)
    off, turned = measure_error(mated.D, S, pairs[0][1].element)
    assert off < 0.02
    assert turned < 0.7
    assert mated.heights_m[0].ventral_m == pytest.approx(heights.ventral_m, abs=2e-3)
    assert mated.heights_m[0].dorsal_m == pytest.approx(heights.dorsal_m, abs=2e-3)
    assert mated.heights_m[1:] == (None,) * (len(few) - 1)
    single = mate(few, [GAPS["centrum"], None, None][: len(few)], planes)
    assert measure_error(single.D, S, pairs[0][1].element)[1] > 4
    assert single.heights_m[0] is None


def test_one_back_that_is_known_tells_the_others(column):
    pairs = bend(column[0], 8.0)
    heights = measure_heights(*pairs[0], np.array([0.0, 0.0, 1.0]))
    thrown, planes, S = scatter(pairs, find_planes(pairs), np.random.default_rng(6))
    for lacking in (0, 1):
        some = tuple(replace(plane, back=None) if k == lacking else plane for k, plane in enumerate(planes))
        mated = mate(thrown, [heights, None, None], some)
        assert measure_error(mated.D, S, pairs[0][1].element)[1] < 0.7


def test_heights_want_a_back_that_is_known(column):
    pairs, planes = column
    assert planes[0].back is None
    for known in (planes, None):
        with pytest.raises(SkeletonError, match=r"joint of V2: .*nothing tells where its back is.*one figure"):
            mate(pairs, [RimHeights(0.1, 0.12), None, None], known)


@pytest.mark.parametrize("degrees", [0, 20])
def test_the_middle_plane_is_found_by_the_shape_alone(shapes, degrees):
    element = shapes.prepare("V1", shapes.make_vertebra(0.5))
    S = make_transform(Rotation.from_rotvec([2.0, 1.0, -0.4]).as_matrix(), [3, 2, 1])
    away = move_rigidly(element, S)
    askew = Rotation.from_rotvec(np.radians(degrees) * np.array([0.6, 0, 0.8])).as_matrix() @ [0, 1.0, 0]
    plane = find_midplane(away, S[:3, :3] @ askew)
    assert np.degrees(np.arccos(min(1.0, float(plane.normal @ S[:3, 1])))) < 0.2
    assert abs(float((plane.point - away.centre) @ plane.normal)) < 2e-3
    assert plane.off_m < 5e-3
