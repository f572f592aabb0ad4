"""Bones of made-up hands laid into each other's place: told, put right, or left undecided."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

sys.path.insert(0, str(Path(__file__).parents[2]))
from made_up_hands import list_bones, make_hands
from swapped_bones import Swap, changes_something, disturb, exchange

from core_calcs.articulation.bones import Bone, prepare_body
from core_calcs.articulation.exchanged import audit_bones
from core_calcs.articulation.registration import lay_upon
from core_calcs.articulation.seating import Standing, find_neighbours, seat_bone
from core_calcs.mesh.surface import Surface
from core_calcs.skeleton.verdict import Verdict
from core_calcs.spatial.errors import Cancelled
from core_calcs.spatial.transforms import apply, is_rigid, make_transform


def find_wrong(bones: list[Bone]) -> list[Verdict]:
    return [verdict for verdict in audit_bones(bones) if verdict.decision == "wrong"]


def swap(one: str, other: str) -> list[Bone]:
    """Named by place: what stands at `one` is the other bone."""
    laid = exchange(make_hands(), Swap("", one, other), np.random.default_rng(3))
    return list_bones({one: other, other: one}, {one: laid[other], other: laid[one]})


def find_off(verdict: Verdict) -> float:
    """How far the two would stand from where they were made, mean of their vertices [m]."""
    one, other = verdict.elements
    return max(
        float(np.linalg.norm(apply(verdict.places[name], own) - own, axis=1).mean())
        for name, own in ((one, make_hands()[other].vertices), (other, make_hands()[one].vertices))
    )


def test_a_swap_that_changes_nothing_is_not_drawn():
    """A bone for its copy elsewhere, or one a little uneven; but not for its mirror image or one more uneven."""
    own = make_hands()["ulna left"]
    R = Rotation.from_rotvec([0.3, 0.2, 0.5]).as_matrix()
    copy = Surface(own.vertices @ R.T + 0.1, own.faces)
    image = Surface(own.vertices * (1, -1, 1), own.faces[:, ::-1])
    rng = np.random.default_rng(1)
    others = {"copy": copy, "little": disturb(own, 0.01, rng), "image": image, "more": disturb(own, 0.05, rng)}
    changes = {name: changes_something({"own": own, **others}, Swap("", "own", name)) for name in others}
    assert changes == {"copy": False, "little": False, "image": True, "more": True}


def test_sound_hands_have_one_verdict_a_pair_and_none_wrong():
    verdicts = audit_bones(list_bones())
    pairs = {(name.replace("right", "left"), name) for name in make_hands() if name.endswith("right")}
    assert {v.elements for v in verdicts} == pairs
    assert len(verdicts) == len(pairs)
    assert {v.decision for v in verdicts} == {"as placed", "undecided"}
    assert all(not v.places and v.what and v.ratings for v in verdicts)


@pytest.mark.parametrize("side", ["left", "right"])
def test_two_phalanges_of_a_finger(side):
    names = f"hand phalanx 2-1 {side}", f"hand phalanx 2-2 {side}"
    (verdict,) = find_wrong(swap(*names))
    assert set(verdict.elements) == set(names)
    assert verdict.fault == "exchanged"
    assert all(is_rigid(X) for X in verdict.places.values())
    assert find_off(verdict) < 2e-3
    assert verdict.ratings[0].way == f"exchanged on the {side}"


def test_left_for_right():
    (verdict,) = find_wrong(swap("radius left", "radius right"))
    assert verdict.elements == ("radius left", "radius right")
    assert find_off(verdict) < 7e-3


def test_a_bone_that_is_its_own_image_tells_no_side():
    """Exchanged or not, nothing can be said of it, and nothing is."""
    names = "metacarpal 2 left", "metacarpal 2 right"
    verdict = next(v for v in audit_bones(swap(*names)) if v.elements == names)
    assert verdict.decision == "undecided"
    assert "too like its mirror image to tell left from right" in verdict.what


def test_both_hands_treated_alike_are_not_told_by_shape():
    """The pairs are still mirror images: the rule looks crosswise and must find nothing rather than something else."""
    bones = {bone.name: bone for bone in swap("hand phalanx 2-1 left", "hand phalanx 2-2 left")}
    for bone in swap("hand phalanx 2-1 right", "hand phalanx 2-2 right"):
        if bone.name.endswith("right"):
            bones[bone.name] = bone
    assert not find_wrong(list(bones.values()))


@pytest.mark.parametrize(("name", "axis"), [("humerus right", 0), ("ulna left", 1), ("radius left", 2)])
def test_a_bone_turned_by_half_a_turn(name, axis):
    """About a principal axis: end for end about the first two, rolled about the last."""
    surface = make_hands()[name]
    body = prepare_body(surface)
    R = Rotation.from_rotvec(np.pi * body.axes[:, axis]).as_matrix()
    turned = make_transform(R, body.centre_E - R @ body.centre_E)
    (verdict,) = find_wrong(list_bones(None, {name: turned}))
    assert (verdict.fault, verdict.elements) == ("turned", (name,))
    right = apply(verdict.places[name], surface.vertices)
    assert np.linalg.norm(right - surface.vertices, axis=1).mean() < 0.15 * body.size


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_mirrored_scan(side):
    """Its file holds the partner's surface moved across: the mirror image of what belongs there."""
    name, partner = f"radius {side}", "radius right" if side == "left" else "radius left"
    surfaces = make_hands()
    copy = Surface(surfaces[name].vertices * (1, -1, 1), surfaces[name].faces[:, ::-1])
    laid = exchange({**surfaces, partner: copy}, Swap("", name, partner), np.random.default_rng(2))[partner]
    bones = [Bone(b.name, b.series, b.side, copy, laid) if b.name == name else b for b in list_bones()]
    (verdict,) = find_wrong(bones)
    assert (verdict.fault, verdict.elements, dict(verdict.places)) == ("mirrored", (name,), {})


def test_without_partners_there_is_nothing_to_say():
    assert audit_bones([bone for bone in list_bones() if bone.side == "left"]) == ()


def test_a_bone_without_volume_is_left_out():
    flat = Surface(np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0.0]]), np.array([[0, 1, 2]]))
    bones = [Bone(f"patella {side}", "limb", side, flat, np.eye(4)) for side in ("left", "right")]
    assert audit_bones(bones) == ()


def test_it_can_be_stopped():
    def stop(doing: str, share: float) -> None:
        raise Cancelled(doing, "stopped", "")

    with pytest.raises(Cancelled):
        audit_bones(list_bones(), stop)


def test_a_bone_is_laid_back_upon_itself():
    body = prepare_body(make_hands()["humerus left"])
    way = lay_upon(body, body)[0]
    assert way.off_s < 1e-3
    np.testing.assert_allclose(way.X_OB, np.eye(4), atol=1e-3)


def test_a_mirror_image_is_that_of_the_mirrored_surface():
    surface = make_hands()["humerus left"]
    mirrored = prepare_body(Surface(surface.vertices * (1, -1, 1), surface.faces[:, ::-1]))
    body = prepare_body(surface).mirrored
    assert lay_upon(body, mirrored)[0].off_s < 4e-3
    points = np.random.default_rng(1).normal(size=(200, 3)) * body.size / 2
    np.testing.assert_allclose(body.grid.distances(points), mirrored.grid.distances(points), atol=0.02 * body.size)


def test_uneven_partners_are_farther_off_than_even_ones():
    surface = make_hands()["ulna left"]
    uneven = disturb(surface, 0.02, np.random.default_rng(4))
    assert lay_upon(prepare_body(uneven), prepare_body(surface))[0].off_s > 5e-3


def test_a_bone_is_seated_where_it_was_made():
    """Moved and turned a little, it comes most of the way back, and fits better than where it was put."""
    stood = {
        name: Standing(name, body, body.X_EB)
        for name, surface in make_hands().items()
        if name.endswith("left") and (body := prepare_body(surface)) is not None
    }
    one = stood["hand phalanx 2-2 left"]
    neighbours = find_neighbours(one, stood.values())
    assert {n.name for n in neighbours} == {"hand phalanx 2-1 left", "hand phalanx 2-3 left"}
    off = 0.04 * one.body.size
    D = make_transform(Rotation.from_rotvec([0.02, -0.02, 0.02]).as_matrix(), np.zeros(3))
    moved = one.X_WB @ D
    moved[:3, 3] += off * np.array([0, 1.0, 0])
    seat = seat_bone(Standing(one.name, one.body, moved), neighbours)
    assert np.linalg.norm(seat.X_WB[:3, 3] - one.X_WB[:3, 3]) < 0.7 * off
    assert seat.score > 0.9 * seat_bone(one, neighbours).score
