"""The range report as a folder: read back by csv, json and an HTML parser."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from core_calcs.cli import main
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.record import Record
from core_calcs.handover.handover_set import write_handover
from core_calcs.handover.public_text import write_public_text
from core_calcs.handover.range_report import draw_column_uses, render_range_report
from core_calcs.handover.range_set import write_ranges
from core_calcs.skeleton.joint import Joint
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.spatial.errors import Cancelled, OutputError, SkeletonError
from core_calcs.spatial.progress import ignore_progress
from core_calcs.studies.places_by_hand import move_and_turn, place_in_document
from core_calcs.studies.ranges import list_ranges
from tests.unit.handover.page import Page

Kept = tuple[SkeletonDocument, Path]
NOW = datetime(2030, 1, 2, 3, 4, tzinfo=UTC)
TABLES = ("ranges", "ranges-by-pose", "records", "mounted")
FILES = {"ranges.html", "public-text.txt", *(f"{name}.{kind}" for name in TABLES for kind in ("csv", "json"))}


def change_joints(document: SkeletonDocument, change: Callable[[Joint], Joint]) -> SkeletonDocument:
    skeleton = document.skeleton
    joints = tuple(change(joint) for joint in skeleton.joints)
    changed = build_skeleton(skeleton.name, skeleton.elements, joints, skeleton.feet)
    return replace(document, skeleton=changed)


def render(document: SkeletonDocument) -> Page:
    table = list_ranges(document.skeleton, document.poses)
    return Page(render_range_report(document, document.poses, table, NOW))


def read_csv(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def written(box_document: Kept, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_ranges(box_document[0], tmp_path_factory.mktemp("out") / "ranges", None, ignore_progress)


@pytest.fixture(scope="module")
def page(written: Path) -> Page:
    return Page((written / "ranges.html").read_text(encoding="utf-8"))


def test_the_folder_holds_what_its_manifest_lists(written: Path) -> None:
    assert set(os.listdir(written)) == FILES | {"manifest.json"}
    assert os.listdir(written.parent) == ["ranges"]
    manifest = json.loads((written / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["schema"] == "counterpoise ranges"
    assert {entry["path"]: entry["sha256"] for entry in manifest["files"]} == {
        name: hashlib.sha256((written / name).read_bytes()).hexdigest() for name in FILES
    }


def test_limits_in_the_table_are_those_of_the_document(box_document: Kept, written: Path) -> None:
    rows = {(row["joint"], row["axis"]): row for row in read_csv(written / "ranges.csv")}
    moving = [joint for joint in box_document[0].skeleton.joints if joint.moves]
    assert len(rows) == 3 * len(moving)
    for joint in moving:
        assert joint.limits is not None
        for axis, limit in zip(("flexion", "lateral", "axial"), joint.limits, strict=True):
            row = rows[joint.child, axis]
            low, high = (np.degrees(end.angle_rad) for end in (limit.low, limit.high))
            assert [float(row["low_deg"]), float(row["high_deg"])] == pytest.approx([low, high])
            assert float(row["low_to_high_deg"]) == pytest.approx(high - low)
            assert (row["low_stops_at"], row["high_stops_at"]) == (limit.low.reason, limit.high.reason)
            assert row["at_least"] == ("yes" if axis == "lateral" else "no")
    first = rows["caudal 1", "flexion"]
    assert (first["parent"], first["series"], first["part"], first["side"]) == ("sacrum", "caudal", "caudal", "middle")
    assert [first[head] for head in ("overlap_at_least_percent", "search_deg", "confidence")] == ["50", "60", "found"]


def test_use_by_pose_in_the_table(written: Path) -> None:
    rows = read_csv(written / "ranges-by-pose.csv")
    assert len(rows) == 2 * 22 * 3
    of = {(row["pose"], row["joint"], row["axis"]): row for row in rows}
    row = of["looking up / left", "caudal 3", "flexion"]
    assert float(row["angle_deg"]) == pytest.approx(15)
    assert float(row["share_of_limit"]) == pytest.approx(15 / 13)
    assert float(row["beyond_deg"]) == pytest.approx(2)
    assert (row["axis_state"], row["joint_state"], float(row["joint_inside_deg"])) == (
        "fails",
        "fails",
        pytest.approx(-2),
    )
    raised = of["looking up / left", "cervical 1", "flexion"]
    assert float(raised["share_of_limit"]) == pytest.approx(-0.5)
    twin = json.loads((written / "ranges-by-pose.json").read_text(encoding="utf-8"))
    assert [list(map(str, own)) for own in twin] == [list(own) for own in rows]


def test_unknown_is_not_known_and_never_zero(box_document: Kept, tmp_path: Path) -> None:
    """A joint without limits, and one that its surfaces do not tell, are in table and page as what they are."""

    def change(joint: Joint) -> Joint:
        if joint.child == "caudal 3":
            return replace(joint, limits=None, settings=None, reason="only one facet is left")
        if joint.child == "hind leg L":
            return replace(joint, confidence="ambiguous", reason="a ball fits as well as a hinge")
        return joint

    document = change_joints(box_document[0], change)
    folder = write_ranges(document, tmp_path / "out", None, ignore_progress)
    rows = {(row["joint"], row["axis"]): row for row in read_csv(folder / "ranges.csv")}
    for child in ("caudal 3", "hind leg L"):
        assert rows[child, "axial"]["low_deg"] == rows[child, "axial"]["low_to_high_deg"] == "not known"
    assert rows["hind leg L", "flexion"]["side"] == "left"
    use = next(r for r in read_csv(folder / "ranges-by-pose.csv") if (r["joint"], r["axis"]) == ("caudal 3", "flexion"))
    assert (use["share_of_limit"], use["joint_state"], use["angle_deg"]) == ("not known", "not known", "0")
    text = Page((folder / "ranges.html").read_text(encoding="utf-8")).text
    assert "Limits not known: caudal 3 on caudal 2 (only one facet is left)" in text
    assert "hind leg L sacrum a ball fits as well as a hinge" in text
    public = (folder / "public-text.txt").read_text(encoding="utf-8")
    assert "How far caudal 3 can turn is not known." in public
    assert "At 1 more place the surfaces do not tell" in public
    assert "Joints whose range is not known are turned in “looking up / left”." in public


def test_the_page_is_whole_in_itself(page: Page) -> None:
    assert len(page.ids) == len(set(page.ids)) > 0
    assert all(reference.startswith("#") and reference[1:] in page.ids for reference in page.references)
    assert not {"script", "link", "iframe", "object", "embed", "img", "base", "form"} & set(page.tags)
    assert page.tags.count("svg") == 2


@pytest.mark.parametrize(
    "words",
    [
        "bone and facet limits at the stated settings",
        "no living animal was measured",
        "Soft tissue is not considered",
        "Poses inside the bony range 1 of 2 outside: looking up / left",
        "caudal 3, 2.0° outside",
        "A 22 50 % 2 % 3 % 15 % 60°",
        "neck 5 125.0° ≥ 95.0° 45.0°",
        "looking up / left 0.0 0.0 0.0 −30.0 25.0 5.0 0.0 0.0 0.0 15.0 −3.0 0.0",
        "caudal 3 caudal 2 −12.0 o 13.0 c 25.0 −9.0 g 10.0 s ≥ 19.0 −4.0 h 5.0 c 9.0 A found",
        "made up 5 jaw",
        "Nothing: no joint was set, no facet marked, no element moved by hand.",
        "Grood & Suntay",
        "Box beast: what its poses rest on",
        "neck raised, tail down",
    ],
)
def test_what_the_page_says(page: Page, words: str) -> None:
    assert words in page.text


def test_every_joint_is_named_in_the_figure_of_the_column(written: Path, box_document: Kept) -> None:
    text = (written / "ranges.html").read_text(encoding="utf-8")
    figures = re.findall(r"<svg.*?</svg>", text, re.DOTALL)
    for joint in box_document[0].skeleton.joints:
        if joint.moves:
            assert all(f">{joint.child}</text>" in figure for figure in figures)


def test_nothing_is_said_that_bones_cannot_tell(written: Path) -> None:
    for name in ("ranges.html", "public-text.txt"):
        text = (written / name).read_text(encoding="utf-8").lower()
        assert "possible" not in text
        assert "physiological" not in text
        assert "validated" not in text


def test_names_that_are_markup_stay_text(box_document: Kept) -> None:
    document, _ = box_document
    pose = replace(document.poses[1], name="<b>bold</b> & “quoted”", note="<script>alert(1)</script>")
    page = render(replace(document, poses=(pose,)))
    assert "script" not in page.tags
    assert "b" not in page.tags
    assert "<b>bold</b> & “quoted”" in page.text


@pytest.mark.parametrize("count", [0, 1, 5, 9])
def test_any_number_of_poses(box_document: Kept, count: int) -> None:
    """Four poses a figure and a table; each is in one of each."""
    document, _ = box_document
    poses = tuple(replace(document.poses[1], name=f"pose {i}") for i in range(count))
    page = render(replace(document, poses=poses))
    figures = max(1, -(-count // 4))
    assert page.tags.count("svg") == figures + (count > 0)
    assert all(page.text.count(f"pose {i}") >= 4 for i in range(count))


def test_a_skeleton_whose_joints_are_all_fixed(box_document: Kept) -> None:
    document = change_joints(
        box_document[0], lambda joint: replace(joint, kind="fixed", limits=None, settings=None, reason="cast as one")
    )
    page = render(replace(document, poses=(Pose("neutral"),)))
    assert "Joints that turn 0" in page.text
    assert page.tags.count("svg") == 0
    assert f"cast as one {len(document.skeleton.joints)}" in page.text
    assert "None of its joints turns." in page.text


def test_limbs_have_figures_of_their_own(box_document: Kept) -> None:
    """A hinge has a bar for flexion alone; a joint that turns about more axes is in the second figure too."""
    source = box_document[0].skeleton.joint_of("caudal 1")
    document = change_joints(
        box_document[0],
        lambda joint: replace(joint, kind="limb", limits=source.limits) if "leg" in joint.child else joint,
    )
    page = render(document)
    assert page.tags.count("svg") == 4
    assert "Limbs and other joints" in page.text


def test_records_and_places_by_hand_are_told(box_document: Kept, tmp_path: Path) -> None:
    document, _ = box_document
    X_WE = move_and_turn(document.skeleton, "jaw", shift_m=(0.0, 0.0, -0.012))
    document = place_in_document(document, "jaw", X_WE, "its hinge was too high")
    stood = {element.name: element.X_WE for element in box_document[0].skeleton.elements}
    record = Record(
        "correction", "turned", ("dorsal 3",), "turned by 180° about its long axis", "it stood <back> to front",
        "fits 3.1 as it is, 0.4 turned", "A. Anatomist", "2026-11-27T03:10:00Z",
    )  # fmt: skip
    back = replace(record, action="put back", elements=("caudal 2",), by="", why="", evidence="")
    before = Pose("as mounted before", note="Where every element stood.", mounted=stood)
    page = render(replace(document, records=(record,), poses=(*document.poses, before)))
    assert "2026-11-27 03:10 A. Anatomist dorsal 3 correction, turned turned by 180° about its long axis" in page.text
    assert "it stood <back> to front" in page.text
    assert "placed by hand jaw moved by 12.0 mm" in page.text
    assert "jaw 12.0 0.0 Of the centre" in page.text
    folder = write_ranges(
        replace(document, records=(record, back), poses=(before,)), tmp_path / "out", None, ignore_progress
    )
    told, put_back = read_csv(folder / "records.csv")
    assert [told[head] for head in ("when_utc", "by", "kind", "action", "elements", "why", "evidence")] == [
        record.when, record.by, "correction", "turned", "dorsal 3", record.why, record.evidence,
    ]  # fmt: skip
    assert (put_back["action"], put_back["by"]) == ("put back", "")
    (stood_elsewhere,) = read_csv(folder / "mounted.csv")
    assert (stood_elsewhere["pose"], stood_elsewhere["element"]) == ("as mounted before", "jaw")
    assert float(stood_elsewhere["centre_off_mm"]) == pytest.approx(12.0)
    assert float(stood_elsewhere["turned_deg"]) == pytest.approx(0.0, abs=1e-6)
    table = list_ranges(document.skeleton, document.poses)
    text = write_public_text(replace(document, records=(record,)), table)
    assert "1 element had been mounted wrongly and was put right. 1 element was moved by hand" in text
    undone = write_public_text(replace(document, records=(record, replace(back, elements=("dorsal 3",)))), table)
    assert "mounted wrongly" not in undone
    assert "not given" in render(replace(document, records=(back,))).text


def test_the_public_text_counts_bones_that_were_made_and_not_what_they_were_made_of(box_document: Kept) -> None:
    document, _ = box_document
    told = ("scaled", "lost", "", "", "2026-11-27T03:10:00Z")
    made = Record("addition", "made of another", ("dorsal 4", "dorsal 3"), *told)
    turned = Record("correction", "turned", ("dorsal 3",), *told)
    mirrored = Record("correction", "mirrored", ("jaw",), *told)
    back = Record("correction", "put back", ("dorsal 3",), *told)
    table = list_ranges(document.skeleton, document.poses)
    text = write_public_text(replace(document, records=(made,)), table)
    assert "1 missing bone was made from another." in text
    two = write_public_text(replace(document, records=(turned, mirrored)), table)
    assert "2 elements had been mounted wrongly" in two
    one = write_public_text(replace(document, records=(turned, mirrored, back, back)), table)
    assert "1 element had been mounted wrongly" in one  # what is mirrored is not put back


def test_a_pose_as_mounted_is_no_pose_of_the_animal(box_document: Kept) -> None:
    """Neither counted among the poses, nor told to the public, nor drawn as a use of ranges."""
    document, _ = box_document
    turned = np.array([[-1.0, 0, 0, 0], [0, -1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]])
    stood = {own.name: own.X_WE @ turned if own.name == "dorsal 3" else own.X_WE for own in document.skeleton.elements}
    before = Pose("as mounted before", note="Where every element stood.", mounted=stood)
    poses = (document.poses[0], before)
    table = list_ranges(document.skeleton, poses)
    assert any(own.uses[1].state == "fails" for own in table.joints)
    text = write_public_text(document, table)
    assert "as mounted before" not in text
    html = render_range_report(document, poses, table, NOW)
    assert "Poses inside the bony range 1 of 1" in Page(html).text
    assert "not a pose: as the elements were mounted" in Page(html).text
    assert all("as mounted before" not in figure for figure in re.findall("<svg.*?</svg>", html, re.DOTALL))
    assert draw_column_uses(list_ranges(document.skeleton, (before,))) == ""


def test_the_public_text_leaves_no_pose_out(box_document: Kept) -> None:
    """However many poses are outside the bony range: each is named, or counted with the rest."""
    document, _ = box_document
    outside = tuple(replace(document.poses[1], name=f"pose {i}") for i in range(6))
    text = write_public_text(document, list_ranges(document.skeleton, (document.poses[0], *outside)))
    assert "Every joint is inside its bony range in “neutral”." in text
    named = ", ".join(f"1 joint in “pose {i}”" for i in range(3))
    assert f"Outside it: {named} and 3 more." in text


@pytest.mark.parametrize("origins", [("scanned",), ("scanned", "mirrored", "scaled", "sculpted", "not known")])
def test_the_public_text_counts_where_elements_come_from(box_document: Kept, origins: tuple[str, ...]) -> None:
    document, _ = box_document
    skeleton = document.skeleton
    elements = tuple(replace(e, origin=origins[i % len(origins)]) for i, e in enumerate(skeleton.elements))
    changed = replace(document, skeleton=build_skeleton(skeleton.name, elements, skeleton.joints, skeleton.feet))
    text = write_public_text(changed, list_ranges(changed.skeleton, changed.poses))
    assert f"made of {len(elements)} elements" in text
    if len(origins) == 1:
        assert "All of them were scanned." in text
    else:
        for origin, words in zip(
            origins, ("scanned", "mirror images", "scaled", "sculpted", "of unknown"), strict=True
        ):
            count = sum(element.origin == origin for element in elements)
            assert re.search(rf"\b{count} (was|were|are) {words}", text), words
    assert 120 <= len(text.split()) <= 260


def test_only_the_poses_asked_for(box_document: Kept, tmp_path: Path) -> None:
    document, _ = box_document
    folder = write_ranges(document, tmp_path / "out", ["neutral", "neutral"], ignore_progress)
    assert {row["pose"] for row in read_csv(folder / "ranges-by-pose.csv")} == {"neutral"}
    with pytest.raises(SkeletonError, match="dancing"):
        write_ranges(document, tmp_path / "other", ["dancing"], ignore_progress)
    assert os.listdir(tmp_path) == ["out"]


def test_it_appears_whole_or_not_at_all(box_document: Kept, tmp_path: Path) -> None:
    document, path = box_document

    def stop(_doing: str, share: float) -> None:
        if share > 0.5:
            raise Cancelled

    with pytest.raises(Cancelled):
        write_ranges(document, tmp_path / "out", None, stop)
    assert os.listdir(tmp_path) == []
    folder = write_ranges(document, tmp_path / "out", None, ignore_progress)
    write_ranges(document, folder, None, ignore_progress)
    (folder / "notes.txt").write_text("years of work", encoding="utf-8")
    with pytest.raises(OutputError, match=r"notes\.txt was put into it by somebody"):
        write_ranges(document, folder, None, ignore_progress)
    assert (folder / "notes.txt").read_text(encoding="utf-8") == "years of work"
    hand_over = write_handover(document, path, tmp_path / "hand-over", ["neutral"], ignore_progress)
    with pytest.raises(OutputError, match="not that of a range report"):
        write_ranges(document, hand_over, None, ignore_progress)


def test_the_hand_over_holds_the_same(box_document: Kept, written: Path, tmp_path: Path) -> None:
    document, path = box_document
    hand_over = write_handover(document, path, tmp_path / "out", None, ignore_progress)
    assert set(os.listdir(hand_over / "ranges")) == FILES
    for name in FILES - {"ranges.html"}:
        assert (hand_over / "ranges" / name).read_bytes() == (written / name).read_bytes()
    assert "ranges.html" in (hand_over / "README.txt").read_text(encoding="utf-8")


def test_the_command_writes_it(box_document: Kept, written: Path, tmp_path: Path) -> None:
    told = CliRunner().invoke(main, ["ranges", str(box_document[1]), "--out", str(tmp_path / "out"), "--json"])
    assert told.exit_code == 0, told.output
    assert set(json.loads(told.stdout)["files"]) == FILES | {"manifest.json"}
    assert (tmp_path / "out" / "ranges.csv").read_bytes() == (written / "ranges.csv").read_bytes()
    shown = CliRunner().invoke(main, ["ranges", str(box_document[1]), "--out", str(tmp_path / "out")])
    assert re.search(r"✕ looking up / left +6 +21 +0 +1 +0 +caudal 3, 2\.0° outside", shown.stdout)
    missing = CliRunner().invoke(main, ["ranges", str(box_document[1])])
    assert missing.exit_code == 2
