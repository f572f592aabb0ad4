"""Mass properties: invariances hold for any body; trimesh is the independent peer."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from core_calcs.mesh.mass_properties import MassProperties, join_properties, measure_polyhedron
from core_calcs.mesh.surface import Surface

seeds = st.integers(0, 2**32 - 1)
small = settings(max_examples=40, deadline=None)


def make_hull(seed: int) -> tuple[Surface, np.random.Generator]:
    """The convex hull of random points: closed, wound outwards, without symmetry."""
    rng = np.random.default_rng(seed)
    hull = trimesh.convex.convex_hull(rng.normal(size=(24, 3)) * rng.uniform(0.2, 2, 3))
    return Surface(np.array(hull.vertices, float), np.array(hull.faces, np.int64)), rng


@small
@given(seeds)
def test_agrees_with_peer(seed: int) -> None:
    surface, _ = make_hull(seed)
    found, peer = measure_polyhedron(surface), trimesh.Trimesh(surface.vertices, surface.faces, process=False)
    assert found.volume_m3 == pytest.approx(peer.volume, rel=1e-9)
    assert found.centre_m == pytest.approx(peer.center_mass, abs=1e-9)
    assert found.inertia_m5 == pytest.approx(peer.moment_inertia, rel=1e-9, abs=1e-9 * np.trace(found.inertia_m5))


@small
@given(seeds)
def test_rotation_and_translation(seed: int) -> None:
    surface, rng = make_hull(seed)
    R, shift = Rotation.random(random_state=rng).as_matrix(), rng.uniform(-5, 5, 3)
    was = measure_polyhedron(surface)
    now = measure_polyhedron(Surface(surface.vertices @ R.T + shift, surface.faces))
    assert now.volume_m3 == pytest.approx(was.volume_m3, rel=1e-12)
    assert now.centre_m == pytest.approx(R @ was.centre_m + shift, abs=1e-12)
    assert now.inertia_m5 == pytest.approx(R @ was.inertia_m5 @ R.T, abs=1e-11 * np.trace(was.inertia_m5))


@small
@given(seeds, st.floats(1e-3, 1e3))
def test_scale(seed: int, scale: float) -> None:
    surface, _ = make_hull(seed)
    was, now = measure_polyhedron(surface), measure_polyhedron(Surface(surface.vertices * scale, surface.faces))
    assert now.volume_m3 == pytest.approx(was.volume_m3 * scale**3, rel=1e-12)
    assert now.inertia_m5 == pytest.approx(was.inertia_m5 * scale**5, abs=1e-11 * scale**5 * np.trace(was.inertia_m5))


@small
@given(seeds)
def test_mirror(seed: int) -> None:
    surface, _ = make_hull(seed)
    was = measure_polyhedron(surface)
    mirrored = surface.vertices * (1, -1, 1)
    inside_out = measure_polyhedron(Surface(mirrored, surface.faces))
    turned = measure_polyhedron(Surface(mirrored, surface.faces[:, ::-1]))
    assert inside_out.volume_m3 == pytest.approx(-was.volume_m3, rel=1e-12)
    assert turned.volume_m3 == pytest.approx(was.volume_m3, rel=1e-12)
    assert turned.centre_m == pytest.approx(was.centre_m * (1, -1, 1), abs=1e-12)


@small
@given(seeds)
def test_the_order_of_triangles_does_not_matter(seed: int) -> None:
    surface, rng = make_hull(seed)
    shuffled = Surface(surface.vertices, np.roll(rng.permutation(surface.faces), 1, axis=1))
    was, now = measure_polyhedron(surface), measure_polyhedron(shuffled)
    assert now.inertia_m5 == pytest.approx(was.inertia_m5, abs=1e-12 * np.trace(was.inertia_m5))


def test_far_from_the_origin_no_figures_are_lost(make_box) -> None:
    """A site's co-ordinates: half a megametre away the vertices themselves are good to 6e-11 m."""
    found = measure_polyhedron(make_box((0.5, 0.25, 0.125), at=(4e5, 5.5e6, 100)))
    assert found.volume_m3 == pytest.approx(0.5 * 0.25 * 0.125, rel=1e-9)
    assert np.diag(found.inertia_m5) == pytest.approx(
        0.5 * 0.25 * 0.125 / 12 * np.array([0.25**2 + 0.125**2, 0.5**2 + 0.125**2, 0.5**2 + 0.25**2]), rel=1e-8
    )


def test_chunks_do_not_show(ball: Surface, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = measure_polyhedron(ball)
    monkeypatch.setattr("core_calcs.mesh.mass_properties.CHUNK", 7)
    assert measure_polyhedron(ball).inertia_m5 == pytest.approx(whole.inertia_m5, rel=1e-12, abs=1e-14)


def test_joining_is_the_sum(make_box) -> None:
    one, two = make_box(at=(0, 0, 0)), make_box((0.1, 0.2, 0.5), at=(1, 2, 3))
    both = Surface(np.concatenate([one.vertices, two.vertices]), np.concatenate([one.faces, two.faces + 8]))
    joined = join_properties([measure_polyhedron(one), measure_polyhedron(two)])
    whole = measure_polyhedron(both)
    assert joined.volume_m3 == pytest.approx(whole.volume_m3)
    assert joined.centre_m == pytest.approx(whole.centre_m)
    assert joined.inertia_m5 == pytest.approx(whole.inertia_m5)


def test_nothing_encloses_nothing() -> None:
    empty = measure_polyhedron(Surface(np.empty((0, 3)), np.empty((0, 3), np.int64)))
    assert isinstance(empty, MassProperties)
    assert empty.volume_m3 == 0
    assert join_properties([]).volume_m3 == 0
