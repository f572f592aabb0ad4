"""Missing bones made of others: where the true one stood, with its joints, and marked for ever."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from core_calcs.build.build import Casting
from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import document_from_text, document_to_text
from core_calcs.mesh.element_surface import read_element
from core_calcs.mesh.records import Survey
from core_calcs.mesh.shape import compare_shapes, measure_shape
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body
from core_calcs.mesh.transformed import transform_surface
from core_calcs.mesh.voids import measure_void
from core_calcs.site.site import Site
from core_calcs.skeleton.joint import LimitSettings
from core_calcs.skeleton.kinematics import joint_motions
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.table import TableRow
from core_calcs.skeleton.tree import Skeleton
from core_calcs.skeleton.verdict import Rating, Verdict
from core_calcs.spatial.errors import Cancelled, DocumentError, OutputError, SkeletonError
from core_calcs.spatial.transforms import invert, make_transform
from core_calcs.studies.castings import cast_series
from core_calcs.studies.disc_thickness import ToldThickness
from core_calcs.studies.inventory import read_expected
from core_calcs.studies.joints_by_hand import set_document_joint
from core_calcs.studies.made_rows import take_made
from core_calcs.studies.missing_list import list_missing
from core_calcs.studies.new_bones import BoneOrder
from core_calcs.studies.survey import survey_folder
from tests.found_joints import articulate, correct, make_bone, put_right, set_discs_thickness

SETTINGS = LimitSettings(search_rad=0.15)
GROWTH = 1.03
MIRROR = np.diag([1.0, -1.0, 1.0, 1.0])
WHEN = "2026-11-27T03:10:00Z"
MOUNTED = make_transform(Rotation.from_euler("xyz", (0.3, -0.2, 0.25)).as_matrix(), (0.2, 0.4, -0.1))
"""The left arm was mounted otherwise than the right one."""


def row(name: str, parent: str, attachment: str = "fixed", position: int | None = None) -> TableRow:
    side = {"L": "left", "R": "right"}.get(name[-1] if "." in name else "", "middle")
    series = "dorsal" if name[0] == "V" else "limb"
    reason = "held by flesh" if attachment == "fixed" else ""
    return TableRow(f"{name}.stl", None, "mm", name, series, position, side, parent, attachment, reason, "scanned")


ROWS = (
    *(row(f"V{k}", f"V{k + 1}" if k < 5 else "", "column" if k < 5 else "root", k) for k in range(1, 6)),
    *(row(f"Arm.{side}", "V3") for side in "LR"),
    *(row(f"Fore.{side}", f"Arm.{side}") for side in "LR"),
    *(row(f"Hand.{side}", f"Fore.{side}") for side in "LR"),
    *(row(f"Plate.{side}", "V4") for side in "LR"),
)


def make_vertebra(shapes, k: int) -> Surface:
    """The k-th: each GROWTH times as large as the one before it, disc to disc."""
    size, centre = GROWTH**k, -sum((GROWTH**m + GROWTH ** (m + 1)) / 2 for m in range(1, k))
    return transform_surface(shapes.make_vertebra(0.0), make_transform(np.eye(3) * size, (centre, 0, 0)))


def make_long_bone(shapes, middle) -> Surface:
    turn = Rotation.from_euler("xyz", (0.3, 0.5, 0.2)).as_matrix()
    return shapes.join(
        shapes.make_box((0.3, 0.25, 1.0), middle),
        shapes.make_box((0.5, 0.2, 0.3), np.add(middle, (0.12, 0.1, 0.45)), turn),
        shapes.make_box((0.2, 0.2, 0.15), np.add(middle, (-0.1, 0.15, -0.4))),
    )


@pytest.fixture(scope="module")
def surfaces(shapes) -> dict[str, Surface]:
    found = {f"V{k}": make_vertebra(shapes, k) for k in range(1, 6)}
    for name, middle in {"Arm": (-2.2, 0.8, -0.7), "Fore": (-2.2, 0.8, -1.8), "Hand": (-2.2, 0.8, -2.9)}.items():
        right = transform_surface(make_long_bone(shapes, middle), MIRROR)
        found |= {f"{name}.R": right, f"{name}.L": transform_surface(right, MOUNTED @ MIRROR)}
    plate = make_long_bone(shapes, (-3.4, 0.9, -0.2))
    return found | {"Plate.L": plate, "Plate.R": transform_surface(plate, MIRROR)}


def write(folder: Path, surfaces: dict[str, Surface]) -> Path:
    for name, surface in surfaces.items():
        trimesh.Trimesh(1000 * surface.vertices, surface.faces, process=False).export(folder / f"{name}.stl")
    return folder


@cache
def survey(folder: Path) -> Survey:
    """Of the scans as they were written: once, and before bones are made beside them."""
    return survey_folder(folder, "mm")


def make_document(folder: Path, without: tuple[str, ...] = ()) -> SkeletonDocument:
    """The animal; what hung on one that is left out is fixed to what that hung on."""
    parents = {own.element: own.parent for own in ROWS}
    rows = []
    for own in ROWS:
        if own.element in without:
            continue
        lost = own.parent
        while lost in without:
            lost = parents[lost]
        if lost != own.parent:
            own = replace(own, parent=lost, attachment="fixed", reason="what it hung on is missing")
        rows.append(own)
    skeleton = articulate(rows, survey(folder), folder, "animal", SETTINGS)
    return SkeletonDocument(skeleton, (Pose("as scanned"),), default_build(), Site(), ".")


def order(name: str, way: str, source: str, **more) -> BoneOrder:
    return BoneOrder(name, way, source, "lost on the dig", "A. B.", "2026-11-27T03:10:00Z", **more)


@pytest.fixture(scope="module")
def folder(surfaces, tmp_path_factory) -> Path:
    return write(tmp_path_factory.mktemp("animal"), surfaces)


@pytest.fixture(scope="module")
def whole(folder) -> SkeletonDocument:
    return make_document(folder)


@pytest.fixture
def own_folder(surfaces, tmp_path) -> Path:
    return write(tmp_path, surfaces)


def read(document: SkeletonDocument, folder: Path, name: str) -> Surface:
    """In the world of neutral."""
    element = document.skeleton.elements[document.skeleton.index(name)]
    source = element.source
    return transform_surface(read_element(folder, source.file, source.body, source.unit_m), element.X_WE)


def apart(one: Surface, other: Surface) -> float:
    """The greatest distance from a vertex of either to the nearest of the other [m]."""
    trees = cKDTree(one.vertices), cKDTree(other.vertices)
    return max(trees[0].query(other.vertices)[0].max(), trees[1].query(one.vertices)[0].max())


def bounds(skeleton: Skeleton, child: str) -> np.ndarray:
    return np.degrees([(own.low.angle_rad, own.high.angle_rad) for own in skeleton.joint_of(child).limits])


def test_a_bone_is_mirrored_with_its_parent_however_that_is_mounted(folder, whole):
    """The left arm stands elsewhere than the right one's mirror image: the forearm stands to it as the right one."""
    made = make_bone(make_document(folder, ("Fore.L",)), folder, order("Fore.L", "mirrored", "Fore.R"))
    assert (
        apart(read(made, folder, "Fore.L"), read(whole, folder, "Fore.L")) < 2e-6
    )  # the scans are in single precision
    record = made.records[-1]
    assert "carried over with its parent: Arm.R mirrored upon Arm.L" in record.evidence
    joint = made.skeleton.joint_of("Fore.L")
    assert (joint.parent, joint.kind) == ("Arm.L", "fixed")
    assert joint.reason == "held by flesh (as Fore.R)"
    np.testing.assert_allclose(joint.X_WJ[:3, 3], whole.skeleton.joint_of("Fore.L").X_WJ[:3, 3], atol=0.03)


def test_what_hangs_on_its_partner_on_the_other_side_hangs_on_it(folder, whole):
    part = make_document(folder, ("Fore.L",))
    assert part.skeleton.joint_of("Hand.L").parent == "Arm.L"
    made = make_bone(part, folder, order("Fore.L", "mirrored", "Fore.R"))
    assert made.skeleton.joint_of("Hand.L").parent == "Fore.L"
    assert "Hand.L hung on it" in made.records[-1].what
    assert [own.parent for own in made.skeleton.joints if own.child.startswith("Arm")] == ["V3", "V3"]


def test_on_a_middle_parent_it_is_mirrored_by_that(folder, whole):
    made = make_bone(make_document(folder, ("Plate.L",)), folder, order("Plate.L", "mirrored", "Plate.R"))
    assert apart(read(made, folder, "Plate.L"), read(whole, folder, "Plate.L")) < 2e-6
    assert "V4 mirrored lies" in made.records[-1].evidence
    assert (
        "2 left-right pairs"
        in make_bone(make_document(folder, ("Plate.L", "Hand.L")), folder, order("Plate.L", "mirrored", "Plate.R"))
        .records[-1]
        .evidence
    )


def test_under_another_parent_it_is_mirrored_at_the_mid_plane(folder):
    part = make_document(folder, ("Plate.L",))
    made = make_bone(part, folder, order("Plate.L", "mirrored", "Plate.R", parent="V5"))
    assert made.skeleton.joint_of("Plate.L").parent == "V5"
    assert "across the mid-plane: V4 and V5 are no pair" in made.records[-1].evidence


def test_it_is_marked_for_ever(folder):
    made = make_bone(make_document(folder, ("Fore.L",)), folder, order("Fore.L", "mirrored", "Fore.R"))
    again = document_from_text(document_to_text(made), "there")
    element = again.skeleton.elements[again.skeleton.index("Fore.L")]
    assert (element.origin, element.made_from, element.series, element.side) == ("mirrored", "Fore.R", "limb", "left")
    assert element.source.file == "made/Fore.L.ply"
    record = again.records[-1]
    assert (record.kind, record.action, record.elements) == ("addition", "made of another", ("Fore.L", "Fore.R"))
    assert (record.why, record.by, record.when) == ("lost on the dig", "A. B.", "2026-11-27T03:10:00Z")
    turned = correct(again, folder, "turned", {"Fore.L": make_transform(np.eye(3), (0, 0, 0.1))}, replace(record))
    assert turned.skeleton.elements[turned.skeleton.index("Fore.L")].made_from == "Fore.R"


def test_one_made_of_a_made_one_says_so(folder):
    """Back to the first side it is the same to a picometre, and the record tells of what its source was made."""
    first = make_bone(make_document(folder, ("Plate.L",)), folder, order("Plate.L", "mirrored", "Plate.R"))
    bare = replace(first, skeleton=_without(first.skeleton, "Plate.R"))
    second = make_bone(bare, folder, order("Plate.R", "mirrored", "Plate.L"))
    assert apart(read(second, folder, "Plate.R"), read(first, folder, "Plate.R")) < 1e-6
    assert "Plate.L itself was mirrored of Plate.R" in second.records[-1].evidence


def _without(skeleton: Skeleton, name: str) -> Skeleton:
    return replace(
        skeleton,
        elements=tuple(own for own in skeleton.elements if own.name != name),
        joints=tuple(own for own in skeleton.joints if own.child != name),
    )


def test_a_joint_set_by_hand_is_mirrored(folder, whole):
    """The same angles mean the same movement: limits stay, the frame is the mirror image."""
    axes = Rotation.from_euler("xyz", (0.2, 0.1, -0.3)).as_matrix()
    limits = ((-0.5, 1.0), (-0.2, 0.1), (0.0, 0.3))
    part = set_document_joint(make_document(folder, ("Plate.L",)), "Plate.R", (-3.4, -0.5, 0.1), axes, limits, "felt")
    made = make_bone(part, folder, order("Plate.L", "mirrored", "Plate.R"))
    joint, like = made.skeleton.joint_of("Plate.L"), made.skeleton.joint_of("Plate.R")
    np.testing.assert_allclose(bounds(made.skeleton, "Plate.L"), np.degrees(limits))
    np.testing.assert_allclose(joint.X_WJ[:3, 3], (-3.4, 0.5, 0.1), atol=1e-5)
    np.testing.assert_allclose(joint.X_WJ[:3, 1], (MIRROR @ like.X_WJ)[:3, 1], atol=1e-5)
    angles = np.array([0.4, 0.05, 0.2])
    pose = Pose("both", {"Plate.L": angles, "Plate.R": angles})
    motions = joint_motions(made.skeleton, pose)
    one, other = (motions[made.skeleton.index(name)] for name in ("Plate.L", "Plate.R"))
    np.testing.assert_allclose(one, MIRROR @ other @ MIRROR, atol=1e-5)


@pytest.fixture(scope="module")
def scaled(folder) -> SkeletonDocument:
    """V3 taken out and made of V2; the arms that hung on it were hung on V4."""
    part = make_document(folder, ("V3",))
    bent = Pose("bent", {"V1": np.array([0.05, 0.0, 0.0])})
    return make_bone(replace(part, poses=(*part.poses, bent)), folder, order("V3", "scaled", "V2"))


def test_a_vertebra_is_made_where_it_was(folder, whole, scaled):
    """Within a hundredth of its size of the true one, which is 1 m, and of its length."""
    true, ours = (own.skeleton.elements[own.skeleton.index("V3")] for own in (whole, scaled))
    size = np.cbrt(true.solid.volume_m3)
    assert np.linalg.norm(ours.solid.centre_m - true.solid.centre_m) < 0.01 * size
    np.testing.assert_allclose(ours.solid.upper_m - ours.solid.lower_m, true.solid.upper_m - true.solid.lower_m,
                               rtol=0.01)  # fmt: skip
    assert (ours.position, ours.side, ours.series, ours.origin, ours.made_from) == (
        3,
        "middle",
        "dorsal",
        "scaled",
        "V2",
    )


def test_the_chain_goes_through_it(scaled):
    assert [scaled.skeleton.joint_of(name).parent for name in ("V1", "V2", "V3", "V4")] == ["V2", "V3", "V4", "V5"]


def test_its_joints_are_those_of_the_true_one(whole, scaled):
    for child in ("V2", "V3"):
        ours, theirs = (own.skeleton.joint_of(child) for own in (scaled, whole))
        assert (ours.kind, ours.confidence, len(ours.facets)) == (theirs.kind, theirs.confidence, len(theirs.facets))
        np.testing.assert_allclose(ours.X_WJ, theirs.X_WJ, atol=0.02)
        np.testing.assert_allclose(bounds(scaled.skeleton, child), bounds(whole.skeleton, child), atol=3)


def test_angles_stay_where_a_joint_still_turns(scaled):
    np.testing.assert_array_equal(scaled.poses[-1].angles_rad["V1"], (0.05, 0, 0))


def test_a_table_takes_it_in(scaled):
    rows = take_made([own for own in ROWS if own.element != "V3"], scaled.skeleton)
    by_name = {own.element: own for own in rows}
    assert (by_name["V3"].file, by_name["V3"].unit, by_name["V3"].origin) == ("made/V3.ply", "mm", "scaled")
    assert (by_name["V3"].parent, by_name["V3"].attachment, by_name["V3"].position) == ("V4", "column", 3)
    assert (by_name["V2"].parent, by_name["V2"].attachment) == ("V3", "column")
    assert by_name["V1"] == ROWS[0]


def test_how_it_was_scaled_and_placed_is_told(scaled):
    record = scaled.records[-1]
    assert record.what.startswith("scaled of V2, 1.03")
    assert "between the end plates of V2 and V4" in record.evidence


def test_one_beyond_the_end_of_the_row(folder, whole):
    made = make_bone(make_document(folder, ("V1",)), folder, order("V1", "scaled", "V2"))
    true, ours = (own.skeleton.elements[own.skeleton.index("V1")] for own in (whole, made))
    assert np.linalg.norm(ours.solid.centre_m - true.solid.centre_m) < 0.02
    assert made.skeleton.joint_of("V1").parent == "V2"
    assert made.skeleton.joint_of("V1").kind == "column"
    assert "go on from the end of the row" in made.records[-1].evidence


def test_of_two_that_are_missing_the_first_is_fixed_until_the_second_is_made(folder, whole):
    part = make_document(folder, ("V2", "V3"))
    one = make_bone(part, folder, order("V3", "scaled", "V4"))
    assert one.skeleton.joint_of("V3").kind == "column"
    assert one.skeleton.joint_of("V1").reason.startswith("1 vertebra is missing between them")
    both = make_bone(one, folder, order("V2", "scaled", "V3"))
    assert [both.skeleton.joint_of(name).parent for name in ("V1", "V2", "V3")] == ["V2", "V3", "V4"]
    assert "V3 itself was scaled of V4" in both.records[-1].evidence
    true, ours = (own.skeleton.elements[own.skeleton.index("V2")] for own in (whole, both))
    assert np.linalg.norm(ours.solid.centre_m - true.solid.centre_m) < 0.03


def test_discs_that_were_set_stay(folder):
    part = make_document(folder, ("V3",))
    part = set_discs_thickness(part, folder, ["V1"], ToldThickness(0.15), "thin")
    made = make_bone(part, folder, order("V3", "scaled", "V2"))
    assert made.skeleton.joint_of("V1").gap_m == pytest.approx(0.15, abs=1e-6)
    assert made.skeleton.joint_of("V2").disc is None


def test_numbers_make_room_where_there_is_room(folder):
    """V3 was lost, and the others were numbered on: the number is held, the room is there."""
    part = make_document(folder, ("V3",))
    numbers = {"V4": 3, "V5": 4}
    elements = (replace(own, position=numbers.get(own.name, own.position)) for own in part.skeleton.elements)
    numbered = replace(part, skeleton=replace(part.skeleton, elements=tuple(elements)))
    with pytest.raises(SkeletonError, match="does not say which number"):
        make_bone(numbered, folder, order("V2b", "scaled", "V2"))
    made = make_bone(numbered, folder, order("V3", "scaled", "V2", position=3))
    assert [own.position for own in made.skeleton.elements if own.series == "dorsal"] == [5, 4, 3, 2, 1]
    assert made.skeleton.joint_of("V2").parent == "V3"
    with pytest.raises(SkeletonError, match="no room"):
        make_bone(made, folder, order("V2c", "scaled", "V2", position=2))


def test_a_hollow_casting_gets_its_void(folder):
    part = make_document(folder, ("Plate.L",))
    hollow = replace(part, build=cast_series(part.build, "limb", Casting("hollow", wall_m=0.02)))
    made = make_bone(hollow, folder, order("Plate.L", "mirrored", "Plate.R"))
    (void,) = made.skeleton.elements[made.skeleton.index("Plate.L")].voids
    assert void.volume_m3 == pytest.approx(measure_void(read(made, folder, "Plate.R"), 0.02).volume_m3, rel=0.01)


def test_a_scan_that_is_a_mirror_image_is_put_right_in_its_place(surfaces, tmp_path):
    """The plate's scan is of the other hand: what is made is a copy of the true one, laid where the scan lay."""
    true = surfaces["Plate.L"]
    middle = make_transform(np.eye(3), survey_body(true)[1].centre_m)
    wrong = transform_surface(true, middle @ MIRROR @ invert(middle))
    folder = write(tmp_path, surfaces | {"Plate.L": wrong})
    made = make_bone(make_document(folder), folder, order("Plate.L", "mirrored", "Plate.L"))
    ours = read(made, folder, "Plate.L")
    shapes = [measure_shape(*survey_body(own)) for own in (ours, true, wrong)]
    assert compare_shapes(shapes[0], shapes[1]) == "copy"
    assert compare_shapes(shapes[0], shapes[2]) == "mirror image"
    assert np.linalg.norm(survey_body(ours)[1].centre_m - middle[:3, 3]) < 0.1
    element = made.skeleton.elements[made.skeleton.index("Plate.L")]
    assert (element.origin, element.made_from) == ("mirrored", "Plate.L")
    assert (made.records[-1].kind, made.records[-1].action) == ("correction", "mirrored")
    ratings = (Rating("Plate.L mirrored", 0.4, (("fit gained [s2]", 0.4),)), Rating("as placed", 0.0, ()))
    verdict = Verdict("mirrored", ("Plate.L",), "wrong", ratings, {}, "it is its partner's copy")
    right = put_right(make_document(folder), folder, verdict, "the scanner's setting", "A. B.", WHEN)
    (record,) = right.records
    assert (record.action, record.why, record.by, record.when) == ("mirrored", "the scanner's setting", "A. B.", WHEN)
    assert record.evidence.startswith("it is its partner's copy. Ways tried, the best first: Plate.L mirrored: 0.40")
    assert "laid upon itself" in record.evidence
    np.testing.assert_array_equal(read(right, folder, "Plate.L").vertices, ours.vertices)


BAD = {
    "taken": (order("V2", "mirrored", "Fore.R"), "an element of that name"),
    "no source": (order("Fore.L", "mirrored", "Nobody"), "no element of that name"),
    "no reason": (replace(order("Fore.L", "mirrored", "Fore.R"), why=" "), "without a reason"),
    "no name": (order(" ", "mirrored", "Fore.R"), "cannot be the name"),
    "path": (order("../x", "mirrored", "Fore.R"), "cannot be the name"),
    "long": (order("x" * 64, "mirrored", "Fore.R"), "longer than 63 bytes"),
    "middle": (order("V9", "mirrored", "V2"), "has no other side"),
    "no row": (order("Fore 2.L", "scaled", "Arm.L"), "stands in no row"),
    "held": (order("Vertebra", "scaled", "V2"), "does not say which number"),
    "far": (order("V9", "scaled", "V4"), "others are missing too"),
    "parent": (order("Fore.L", "mirrored", "Fore.R", parent="Nobody"), "no element of that name"),
}


@pytest.fixture(scope="module")
def lacking(surfaces, tmp_path_factory) -> tuple[SkeletonDocument, Path]:
    """The animal without a forearm, in a folder where nothing has been made yet."""
    own = write(tmp_path_factory.mktemp("lacking"), surfaces)
    return make_document(own, ("Fore.L",)), own


@pytest.mark.parametrize("case", BAD)
def test_what_cannot_be_made_is_refused_and_leaves_nothing(case, lacking):
    (part, own), (wrong, what) = lacking, BAD[case]
    with pytest.raises(SkeletonError, match=what):
        make_bone(part, own, wrong)
    assert not (own / "made").exists()


def test_one_whose_parent_is_missing_too_is_refused(own_folder):
    part = make_document(own_folder, ("Fore.L", "Hand.L"))
    with pytest.raises(SkeletonError, match=r"whose partner Fore\.L is missing too"):
        make_bone(part, own_folder, order("Hand.L", "mirrored", "Hand.R"))


def test_a_file_that_has_changed_is_refused(own_folder):
    part = make_document(own_folder, ("Fore.L",))
    (own_folder / "Arm.L.stl").write_bytes(b"changed")
    with pytest.raises(DocumentError, match="are not the files"):
        make_bone(part, own_folder, order("Fore.L", "mirrored", "Fore.R"))
    assert not (own_folder / "made").exists()


def test_where_nothing_can_be_written_nothing_is_made(own_folder):
    part = make_document(own_folder, ("Fore.L",))
    (own_folder / "made").write_text("in the way")
    with pytest.raises(OutputError):
        make_bone(part, own_folder, order("Fore.L", "mirrored", "Fore.R"))


def test_stopped_in_the_middle_it_leaves_no_file(own_folder):
    part = make_document(own_folder, ("Fore.L",))

    def stop(_doing: str, share: float) -> None:
        if share >= 0.2:  # the file is there
            assert (own_folder / "made" / "Fore.L.ply").is_file()
            raise Cancelled

    with pytest.raises(Cancelled):
        make_bone(part, own_folder, order("Fore.L", "mirrored", "Fore.R", parent="V1"), stop)
    assert not (own_folder / "made").exists()


def test_an_open_surface_is_passed_on_and_told(surfaces, tmp_path):
    holed = Surface(surfaces["Plate.R"].vertices, surfaces["Plate.R"].faces[5:])
    folder = write(tmp_path, surfaces | {"Plate.R": holed})
    made = make_bone(make_document(folder, ("Plate.L",)), folder, order("Plate.L", "mirrored", "Plate.R"))
    left, right = (made.skeleton.elements[made.skeleton.index(f"Plate.{side}")].solid for side in "LR")
    assert "open" in left.states
    assert left.volume_error_m3 == pytest.approx(right.volume_error_m3, rel=1e-3)
    assert "the surface of Plate.R is open" in made.records[-1].evidence


def test_what_is_missing_is_listed(folder):
    part = make_document(folder, ("Fore.L", "V3"))
    found = {own.name: own for own in list_missing(part.skeleton)}
    assert set(found) == {"Fore.L", "V3"}
    assert (found["Fore.L"].kind, found["Fore.L"].way, found["Fore.L"].source) == ("partner", "mirrored", "Fore.R")
    assert (found["V3"].kind, found["V3"].way, found["V3"].source, found["V3"].position) == (
        "number",
        "scaled",
        "V2",
        3,
    )


def test_the_whole_animal_lacks_nothing_but_what_is_expected(whole):
    assert list_missing(whole.skeleton) == ()
    found = list_missing(whole.skeleton, read_expected("dorsal=7, arm=2"))
    assert [(own.kind, own.what) for own in found] == [("count", "dorsal: 5 there, 7 expected")]
