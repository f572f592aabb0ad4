"""Elements placed by the user: all that hangs on them moves as one rigid whole, and nothing else does."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.spatial.transform import Rotation, Slerp

from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import document_from_text, document_to_text
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import AxisLimit, Facet, Stop
from core_calcs.skeleton.kinematics import place_elements
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.errors import SkeletonError
from core_calcs.spatial.transforms import apply, invert, make_transform
from core_calcs.studies.assess import assess
from core_calcs.studies.joints_by_hand import set_document_joint
from core_calcs.studies.places_by_hand import (
    describe_placed,
    find_place,
    list_free,
    list_placed,
    move_and_turn,
    place_in_document,
    restore_in_document,
    straddle_in_document,
)

BRANCH = ("blade", "arm", "hand")
SHIFT = np.array([0.03, -0.02, 0.05])
AXIS, ANGLE = np.array([1.0, 2.0, -2.0]), 0.4


def make_limits(at: np.ndarray) -> tuple[AxisLimit, AxisLimit, AxisLimit]:
    limit = AxisLimit(Stop(-1.0, "bone contact", at), Stop(1.0, "search range", None))
    return limit, limit, limit


@pytest.fixture
def document(random_skeletons) -> SkeletonDocument:
    """A trunk; on it a neck that turns, and a shoulder blade, fixed, with an arm and a hand that turn."""
    rng = np.random.default_rng(7)
    names = ("trunk", "neck", *BRANCH)
    elements = {}
    for i, name in enumerate(names):
        solid = random_skeletons.make_solid(0.004 + 0.001 * i, rng.normal(size=3) * 0.05, rng.uniform(0.02, 0.1, 3))
        X_WE = make_transform(random_skeletons.make_rotation(rng), rng.normal(size=3))
        elements[name] = random_skeletons.make_element(name, solid, X_WE)
    joints = []
    for parent, child in (("trunk", "neck"), ("trunk", "blade"), *pairwise(BRANCH)):
        X_WJ = make_transform(random_skeletons.make_rotation(rng), rng.normal(size=3))
        joint = replace(random_skeletons.make_joint(parent, child, X_WJ, (1, -1, 1)), limits=make_limits(X_WJ[:3, 3]))
        facet = Facet("centrum", child, rng.normal(size=3), np.array([0.0, 0.0, 1.0]), 1e-4, 0.001)
        joints.append(replace(joint, facets=(facet, replace(facet, element=parent))))
    joints[1] = replace(joints[1], kind="fixed", limits=None)
    skeleton = build_skeleton("made up", tuple(elements.values()), tuple(joints))
    angles = {"neck": np.array([0.2, 0.1, -0.3]), "arm": np.array([0.5, -0.2, 0.1]), "hand": np.array([-0.4, 0, 0.2])}
    pose = Pose("turned", angles, make_transform(random_skeletons.make_rotation(rng), rng.normal(size=3)))
    return SkeletonDocument(skeleton, (Pose("neutral"), pose), default_build(), Site(), ".")


def moved(document: SkeletonDocument, shift=SHIFT, angle=ANGLE, name="blade") -> SkeletonDocument:
    X_WE = move_and_turn(document.skeleton, name, shift, AXIS, angle)
    return place_in_document(document, name, X_WE, " as in the field drawing ")


def element_of(document: SkeletonDocument, name: str):
    return document.skeleton.elements[document.skeleton.index(name)]


def test_a_shift_moves_the_centre_by_its_share_of_the_mass_and_nothing_else(document):
    neutral, after = document.poses[0], moved(document, angle=0.0)
    before = assess(document.skeleton, neutral, document.build, document.site)
    found = assess(after.skeleton, neutral, after.build, after.site)
    assert found.mass_kg == before.mass_kg
    volumes = {element.name: element.solid.volume_m3 for element in document.skeleton.elements}
    share = sum(volumes[name] for name in BRANCH) / sum(volumes.values())
    np.testing.assert_allclose(found.centre_m - before.centre_m, share * SHIFT, rtol=0, atol=1e-12)


def test_in_a_pose_the_shift_is_turned_with_the_parent(document):
    """The blade hangs fixed on the trunk, whose motion in the pose is the whole's."""
    pose, after = document.poses[1], moved(document, angle=0.0)
    before = place_elements(document.skeleton, pose)
    found = place_elements(after.skeleton, pose)
    for i, element in enumerate(document.skeleton.elements):
        expected = before[i].copy()
        if element.name in BRANCH:
            expected[:3, 3] += pose.X_WN[:3, :3] @ SHIFT
        np.testing.assert_allclose(found[i], expected, rtol=0, atol=1e-12)


def test_the_branch_moves_as_one_rigid_whole_joints_and_their_evidence_included(document):
    after = moved(document)
    D = element_of(after, "blade").X_WE @ invert(element_of(document, "blade").X_WE)
    assert Rotation.from_matrix(D[:3, :3]).magnitude() == pytest.approx(ANGLE)
    for old in document.skeleton.elements:
        expected = D @ old.X_WE if old.name in BRANCH else old.X_WE
        np.testing.assert_allclose(element_of(after, old.name).X_WE, expected, rtol=0, atol=1e-14)
    for old, new in zip(document.skeleton.joints, after.skeleton.joints, strict=True):
        inside = old.child in BRANCH
        np.testing.assert_allclose(new.X_WJ, D @ old.X_WJ if inside else old.X_WJ, rtol=0, atol=1e-14)
        if old.limits is not None:
            place = apply(D, old.X_WJ[None, :3, 3])[0] if inside else old.X_WJ[:3, 3]
            np.testing.assert_allclose(new.limits[2].low.place_m, place, rtol=0, atol=1e-14)
            assert [stop.angle_rad for limit in new.limits for stop in (limit.low, limit.high)] == [-1.0, 1.0] * 3
        for was, now in zip(old.facets, new.facets, strict=True):
            carried = was.element in BRANCH
            expected = apply(D, was.centroid_m[None])[0] if carried else was.centroid_m
            np.testing.assert_allclose(now.centroid_m, expected, rtol=0, atol=1e-14)
            np.testing.assert_allclose(
                now.normal, D[:3, :3] @ was.normal if carried else was.normal, rtol=0, atol=1e-14
            )
    assert after.poses is document.poses


def test_the_turn_is_about_the_centre_of_volume_or_the_point_given(document):
    element = element_of(document, "blade")
    X_WE = move_and_turn(document.skeleton, "blade", axis=AXIS, angle_rad=ANGLE)
    centre = apply(element.X_WE, element.solid.centre_m[None])
    np.testing.assert_allclose(apply(X_WE, element.solid.centre_m[None]), centre, rtol=0, atol=1e-14)
    point = np.array([0.3, 0.2, 0.1])
    X_WE = move_and_turn(document.skeleton, "blade", axis=(0, 0, 3), angle_rad=np.pi / 2, about_m=point)
    quarter = np.array([[0, -1, 0], [1, 0, 0], [0, 0, 1.0]])
    np.testing.assert_allclose(X_WE[:3, 3], point + quarter @ (element.X_WE[:3, 3] - point), rtol=0, atol=1e-14)


def test_the_way_back_is_kept_through_file_and_second_move(document):
    after = document_from_text(document_to_text(moved(document)), "again")
    assert document_to_text(after) == document_to_text(moved(document))
    after = moved(after, shift=(0.1, 0.0, 0.0), angle=-0.7)
    (placed,) = list_placed(after.skeleton)
    assert (placed.element, placed.parent, placed.reason) == ("blade", "trunk", "as in the field drawing")
    np.testing.assert_allclose(placed.shift_m, SHIFT + np.array([0.1, 0, 0]), rtol=0, atol=1e-14)
    assert placed.angle_rad == pytest.approx(0.3)
    np.testing.assert_allclose(placed.axis, -AXIS / 3, rtol=0, atol=1e-12)
    back = restore_in_document(after, "blade")
    assert list_placed(back.skeleton) == ()
    for old in document.skeleton.elements:
        np.testing.assert_allclose(element_of(back, old.name).X_WE, old.X_WE, rtol=0, atol=1e-12)
    for old, new in zip(document.skeleton.joints, back.skeleton.joints, strict=True):
        np.testing.assert_allclose(new.X_WJ, old.X_WJ, rtol=0, atol=1e-12)


def test_what_hangs_on_a_placed_element_goes_back_to_its_parent_where_that_stands(document):
    """Arm against blade, then blade against trunk, then the arm back: it is on the moved blade as it was scanned."""
    after = restore_in_document(moved(moved(document, name="arm")), "arm")
    assert [placed.element for placed in list_placed(after.skeleton)] == ["blade"]
    blade, arm = element_of(document, "blade").X_WE, element_of(document, "arm").X_WE
    np.testing.assert_allclose(
        invert(element_of(after, "blade").X_WE) @ element_of(after, "arm").X_WE, invert(blade) @ arm, rtol=0, atol=1e-12
    )


def look(document: SkeletonDocument, name: str, moved: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """X_WE found for an element that is seen moved in the turned pose, and where it is seen."""
    pose, skeleton = document.poses[1], document.skeleton
    drawn = place_elements(skeleton, pose)
    i, parent = skeleton.index(name), skeleton.index(skeleton.joint_of(name).parent)
    to_centre = make_transform(np.eye(3), skeleton.elements[i].solid.centre_m)
    motion = drawn[parent] @ invert(skeleton.elements[parent].X_WE)
    seen = moved @ drawn[i]
    found = find_place(skeleton.elements[i], seen @ to_centre, drawn[i] @ to_centre, motion, 1e-5, 1e-5)
    return found, seen


@pytest.mark.parametrize("name", ["blade", "arm"])
def test_what_is_seen_in_a_pose_is_where_the_element_then_stands(document, name):
    """Moved by hand in the pose: the corrected skeleton draws it there, be its joint fixed or turned."""
    X_WE, seen = look(document, name, make_transform(Rotation.from_rotvec([0.3, -0.2, 0.5]).as_matrix(), SHIFT))
    after = place_in_document(document, name, X_WE, "seen")
    place = place_elements(after.skeleton, document.poses[1])[document.skeleton.index(name)]
    np.testing.assert_allclose(place, seen, rtol=0, atol=1e-12)


def test_what_single_precision_leaves_open_is_no_move_and_no_turn(document):
    """A shift alone turns nothing at all, a turn alone keeps the centre; neither is neither."""
    blade = element_of(document, "blade")
    centre = apply(blade.X_WE, blade.solid.centre_m[None])
    tremble = Rotation.from_rotvec([3e-6, 0, -2e-6]).as_matrix()
    pose = place_elements(document.skeleton, document.poses[1])[document.skeleton.index("blade")]
    point = apply(pose, blade.solid.centre_m[None])[0]
    about = make_transform(tremble, point - tremble @ point + (1e-6, 0, 2e-6))
    assert np.array_equal(look(document, "blade", about)[0], blade.X_WE)
    shifted, _ = look(document, "blade", make_transform(np.eye(3), SHIFT) @ about)
    np.testing.assert_allclose(shifted[:3, :3], blade.X_WE[:3, :3], rtol=0, atol=1e-15)
    R = Rotation.from_rotvec([0.0, 0.2, 0.0]).as_matrix()
    turned, _ = look(document, "blade", make_transform(R, point - R @ point + (1e-6, 0, 0)))
    np.testing.assert_allclose(apply(turned, blade.solid.centre_m[None]), centre, rtol=0, atol=1e-15)


def test_words(document):
    (placed,) = list_placed(moved(document).skeleton)
    assert describe_placed(placed) == (
        "moved by 61.6 mm (x 30, y -20, z 50) and turned by 22.9° about (0.33, 0.67, -0.67): as in the field drawing"
    )
    (placed,) = list_placed(moved(document, shift=(0, 0, 0), angle=0.0).skeleton)
    assert describe_placed(placed) == "where it was scanned: as in the field drawing"


def test_what_cannot_be_placed(document):
    skeleton = document.skeleton
    held = tuple(replace(joint, kind="column") if joint.child == "neck" else joint for joint in skeleton.joints)
    document = replace(document, skeleton=replace(skeleton, joints=held))
    assert list_free(document.skeleton) == BRANCH
    for name, why in (("neck", "follows from the bones"), ("trunk", "the root has no joint"), ("wing", "no element")):
        with pytest.raises(SkeletonError, match=why):
            place_in_document(document, name, np.eye(4), "why not")
    for X_WE, reason, why in (
        (np.eye(4), "  ", "without a reason"),
        (np.diag([2.0, 2.0, 2.0, 1.0]), "larger", "not a rigid transform"),
        (np.diag([-1.0, 1.0, 1.0, 1.0]), "mirrored", "not a rigid transform"),
    ):
        with pytest.raises(SkeletonError, match=why):
            place_in_document(document, "blade", X_WE, reason)
    with pytest.raises(SkeletonError, match="stands where it was scanned"):
        restore_in_document(document, "blade")
    with pytest.raises(SkeletonError, match="no direction"):
        move_and_turn(document.skeleton, "blade", axis=(0, 0, 0), angle_rad=1.0)
    with pytest.raises(SkeletonError, match="not finite"):
        move_and_turn(document.skeleton, "blade", shift_m=(np.nan, 0, 0))


def straddling(document: SkeletonDocument) -> SkeletonDocument:
    """The blade between trunk and neck, which turns against it."""
    return straddle_in_document(document, "blade", "neck")


def test_what_straddles_two_is_halfway_between_what_both_make_of_it(document):
    """Orientation by scipy's slerp; the point of the joint in the middle of its two places; what hangs on it rides."""
    pose, after = document.poses[1], straddling(document)
    alone = dict(
        zip((e.name for e in document.skeleton.elements), place_elements(document.skeleton, pose), strict=True)
    )
    found = dict(zip((e.name for e in after.skeleton.elements), place_elements(after.skeleton, pose), strict=True))
    motions = [alone[name] @ invert(element_of(document, name).X_WE) for name in ("trunk", "neck")]
    blade = found["blade"] @ invert(element_of(document, "blade").X_WE)
    between = Slerp([0, 1], Rotation.from_matrix([X[:3, :3] for X in motions]))(0.5)
    np.testing.assert_allclose(blade[:3, :3], between.as_matrix(), rtol=0, atol=1e-12)
    point = document.skeleton.joint_of("blade").X_WJ[None, :3, 3]
    middle = (apply(motions[0], point) + apply(motions[1], point)) / 2
    np.testing.assert_allclose(apply(blade, point), middle, rtol=0, atol=1e-12)
    carried = invert(found["blade"]) @ found["arm"]
    np.testing.assert_allclose(carried, invert(alone["blade"]) @ alone["arm"], rtol=0, atol=1e-12)
    for name in ("trunk", "neck"):
        assert np.array_equal(found[name], alone[name])


def test_the_order_of_the_two_does_not_matter(document):
    """The second comes after the element in the tree, and before it."""
    pose, one = document.poses[1], straddling(document)
    joints = {joint.child: joint for joint in document.skeleton.joints}
    joints["blade"] = replace(joints["blade"], parent="neck", also="trunk")
    other = build_skeleton("made up", document.skeleton.elements, tuple(joints.values()))
    places = [
        dict(zip((e.name for e in own.elements), place_elements(own, pose), strict=True))
        for own in (one.skeleton, other)
    ]
    for name in BRANCH:
        np.testing.assert_allclose(places[0][name], places[1][name], rtol=0, atol=1e-12)


def test_figures_of_what_straddles(document):
    """It is weighed where it is, hangs on its parent alone, and is no joint that turns."""
    pose, after = document.poses[1], straddling(document)
    found = assess(after.skeleton, pose, after.build, after.site)
    volumes = np.array([element.solid.volume_m3 for element in after.skeleton.elements])
    places = place_elements(after.skeleton, pose)
    centres = np.stack(
        [apply(X, e.solid.centre_m[None])[0] for X, e in zip(places, after.skeleton.elements, strict=True)]
    )
    np.testing.assert_allclose(found.centre_m, volumes @ centres / volumes.sum(), rtol=0, atol=1e-12)
    assert [use.child for use in found.uses] == ["neck", "arm", "hand"]
    load = next(load for load in found.joints if load.child == "blade")
    branch = [i for i, element in enumerate(after.skeleton.elements) if element.name in BRANCH]
    weights = np.array([0, 0, -9.80665 * found.mass_kg * volumes[branch].sum() / volumes.sum()])
    assert load.parent == "trunk"
    np.testing.assert_allclose(load.force_N, weights, rtol=1e-12, atol=1e-9)


def test_what_cannot_straddle(document):
    for child, also, why in (
        ("blade", "wing", "not there"),
        ("blade", "trunk", "both elements that it straddles are trunk"),
        ("blade", "hand", "hangs on blade"),
        ("arm", "neck", "it turns"),
        ("trunk", "neck", "the root has no joint"),
    ):
        with pytest.raises(SkeletonError, match=why):
            straddle_in_document(document, child, also)
    assert straddle_in_document(straddling(document), "blade", None).skeleton.joint_of("blade").also is None
    held = set_document_joint(straddling(document), "blade", (0, 0, 0), np.eye(3), [(-1, 1)] * 3, "a joint after all")
    assert held.skeleton.joint_of("blade").also is None
