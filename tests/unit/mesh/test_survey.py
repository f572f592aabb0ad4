"""Surveying one element: every state is named, and what it encloses is right or has an honest error."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core_calcs.mesh.bodies import join_surfaces, merge_vertices, split_bodies
from core_calcs.mesh.boundary import find_open_edges
from core_calcs.mesh.mass_properties import measure_polyhedron
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body

BOX = 0.4 * 0.3 * 0.2


def turn(surface: Surface, rows: slice | np.ndarray = slice(None)) -> Surface:
    faces = surface.faces.copy()
    faces[rows] = faces[rows][:, ::-1]
    return Surface(surface.vertices, faces)


def soup(surface: Surface) -> Surface:
    """Every triangle with corners of its own, as STL keeps them."""
    return Surface(surface.vertices[surface.faces.ravel()], np.arange(surface.faces.size).reshape(-1, 3))


def test_closed(make_box) -> None:
    repaired, solid = survey_body(soup(make_box()))
    assert solid.states == ("closed",)
    assert solid.volume_m3 == pytest.approx(BOX)
    assert solid.volume_error_m3 == 0
    assert repaired.vertices.shape == (8, 3)
    assert solid.triangles == 12
    assert solid.lower_m == pytest.approx([-0.2, -0.15, -0.1])


def test_inside_out_is_turned_and_named(make_box) -> None:
    repaired, solid = survey_body(turn(make_box()))
    assert solid.states == ("closed", "inside out")
    assert solid.volume_m3 == pytest.approx(BOX)
    assert measure_polyhedron(repaired).volume_m3 == pytest.approx(BOX)


def test_mixed_winding_is_made_to_agree(ball: Surface) -> None:
    rng = np.random.default_rng(3)
    mixed = turn(ball, np.flatnonzero(rng.random(len(ball.faces)) < 0.3))
    repaired, solid = survey_body(mixed)
    assert solid.states == ("closed", "mixed winding")
    assert solid.volume_m3 == pytest.approx(measure_polyhedron(ball).volume_m3, rel=1e-12)
    assert not len(find_open_edges(repaired))


def test_open_is_an_estimate_with_its_error(ball: Surface) -> None:
    """A ball with its cap cut off, at growing heights: the true volume lies within the error given."""
    whole = measure_polyhedron(ball).volume_m3
    for height in (0.95, 0.7, 0.4):
        kept = ball.faces[ball.vertices[ball.faces][:, :, 2].max(axis=1) < height]
        repaired, solid = survey_body(Surface(ball.vertices, kept))
        assert solid.states == ("open",)
        assert solid.volume_error_m3 > 0
        assert abs(solid.volume_m3 - whole) <= solid.volume_error_m3
        assert len(repaired.faces) == len(kept)


def test_open_and_inside_out(ball: Surface) -> None:
    kept = ball.faces[ball.vertices[ball.faces][:, :, 2].max(axis=1) < 0.8]
    _, solid = survey_body(turn(Surface(ball.vertices, kept)))
    assert solid.states == ("open", "inside out")
    assert solid.volume_m3 > 3


def test_doubled_surface_counts_once(ball: Surface) -> None:
    doubled = Surface(ball.vertices, np.concatenate([ball.faces, ball.faces]))
    repaired, solid = survey_body(doubled)
    assert solid.states == ("closed", "doubled surface")
    assert solid.volume_m3 == pytest.approx(measure_polyhedron(ball).volume_m3)
    assert solid.triangles == len(ball.faces) == len(repaired.faces)


def test_doubled_surface_back_to_back(ball: Surface) -> None:
    doubled = Surface(ball.vertices, np.concatenate([ball.faces, ball.faces[:, ::-1]]))
    _, solid = survey_body(doubled)
    assert "doubled surface" in solid.states
    assert solid.volume_m3 == pytest.approx(measure_polyhedron(ball).volume_m3)


def test_doubled_skins_that_part_along_other_diagonals(make_box) -> None:
    """Each face of a box once as one pair of triangles, once as the other: four skins meet in every quadrilateral."""
    box = trimesh.creation.box(extents=(1, 1, 1)).subdivide().subdivide()
    one = Surface(np.array(box.vertices, float), np.array(box.faces, np.int64))
    top = np.flatnonzero((one.vertices[one.faces][:, :, 2] == 0.5).all(axis=1))
    other = one.faces.copy()
    first, second = find_quad(one.faces, top)
    a, b, c, d = first[0], first[1], first[2], second
    rows = [i for i in top if set(one.faces[i]) <= {a, b, c, d}]
    other[rows[0]], other[rows[1]] = (a, b, d), (b, c, d)
    doubled = Surface(one.vertices, np.concatenate([one.faces, other]))
    _, solid = survey_body(doubled)
    assert solid.states == ("closed", "doubled surface")
    assert solid.triangles == len(one.faces)
    assert solid.volume_m3 == pytest.approx(1.0)


def find_quad(faces: np.ndarray, rows: np.ndarray) -> tuple[tuple[int, int, int], int]:
    """Corners a, b, c of one triangle and the far corner d of its neighbour across a–c."""
    for i in rows:
        for a, b, c in (np.roll(faces[i], k) for k in range(3)):
            for j in rows:
                d = set(faces[j].tolist()) - {a, b, c}
                if j != i and {a, c} <= set(faces[j].tolist()) and len(d) == 1:
                    return (int(a), int(b), int(c)), d.pop()
    raise AssertionError("no quadrilateral")


def test_a_stray_repeated_triangle_is_dropped(ball: Surface) -> None:
    repeated = Surface(ball.vertices, np.concatenate([ball.faces, ball.faces[5:9]]))
    repaired, solid = survey_body(repeated)
    assert solid.states == ("closed",)
    assert len(repaired.faces) == len(ball.faces)


def test_several_bodies_are_turned_each_and_their_overlap_is_in_the_error(make_box) -> None:
    apart = join_surfaces((make_box(), turn(make_box(at=(1, 0, 0)))))
    _, solid = survey_body(apart)
    assert solid.states == ("closed", "inside out", "several bodies")
    assert solid.volume_m3 == pytest.approx(2 * BOX)
    assert solid.volume_error_m3 == 0
    overlapping = join_surfaces((make_box(), make_box(at=(0.1, 0, 0))))
    _, solid = survey_body(overlapping)
    union = 0.5 * 0.3 * 0.2
    assert abs(solid.volume_m3 - union) <= solid.volume_error_m3 * (1 + 1e-12)


def test_a_cavity_stays_a_cavity(make_box) -> None:
    hollow = join_surfaces((make_box(), turn(make_box((0.2, 0.1, 0.1)))))
    for surface in (hollow, turn(hollow)):
        _, solid = survey_body(surface)
        assert solid.volume_m3 == pytest.approx(BOX - 0.002)
        assert "several bodies" not in solid.states
    assert len(split_bodies(merge_vertices(hollow))) == 1


def test_one_sided_surface_is_measured_without_failing() -> None:
    """A Möbius strip has no outside: it is open and stays so."""
    t = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    rings = [np.stack([(2 + w * np.cos(t / 2)) * np.cos(t), (2 + w * np.cos(t / 2)) * np.sin(t), w * np.sin(t / 2)], 1)
             for w in (-0.5, 0.5)]  # fmt: skip
    faces = []
    for i in range(40):
        a, b = i, 40 + i
        c, d = (i + 1, 41 + i) if i < 39 else (40, 0)
        faces += [(a, c, b), (b, c, d)]
    _, solid = survey_body(Surface(np.concatenate(rings), np.array(faces)))
    assert solid.states[0] == "open"
    assert solid.volume_error_m3 > 0


def test_empty() -> None:
    line = Surface(np.zeros((3, 3)), np.array([[0, 1, 2]]))
    _, solid = survey_body(line)
    assert solid.states == ("empty",)
