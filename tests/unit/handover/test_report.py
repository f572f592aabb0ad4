"""The report as a reader's program sees it: well formed, whole in itself, every state in words."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from core_calcs.articulation.limb_joint import HELD
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.record import Record
from core_calcs.handover.mass_figure import draw_masses
from core_calcs.handover.outline import cell_size
from core_calcs.handover.pages import escape_css
from core_calcs.handover.pieces import list_pieces
from core_calcs.handover.report import Outline, render_report
from core_calcs.handover.report_mass import list_series_masses
from core_calcs.site.actions import PointAction
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.studies.assess import assess
from tests.unit.handover.page import Page

Kept = tuple[SkeletonDocument, Path]
BEAMS = ("Neck", "Trunk", "Tail", "Fore leg L", "Fore leg R", "Hind leg L", "Hind leg R")
NOW = datetime(2030, 1, 2, 3, 4, tzinfo=UTC)


def render(document: SkeletonDocument, pose: Pose) -> str:
    found = assess(document.skeleton, pose, document.build, document.site)
    points = np.array([mass.centre_m for mass in found.masses])
    return render_report(document, pose, found, Outline(points, cell_size(document.skeleton)), NOW)


@pytest.fixture(scope="module")
def page(box_document: Kept) -> Page:
    return Page(render(box_document[0], box_document[0].poses[1]))


def test_ids_are_unique_and_references_stay_inside(page: Page) -> None:
    assert len(page.ids) == len(set(page.ids)) > 0
    for reference in page.references:
        inside = reference.startswith("#") and reference[1:] in page.ids
        assert inside or reference.startswith("data:image/png;base64,"), reference


def test_nothing_runs_and_nothing_is_fetched(page: Page) -> None:
    assert not {"script", "link", "iframe", "object", "embed", "img", "base", "form"} & set(page.tags)
    assert page.tags.count("svg") == 7 + len(BEAMS)
    text = "".join(page.words)
    assert "@import" not in text
    assert "@font-face" not in text


def test_states_are_words_and_symbols(page: Page) -> None:
    assert "● holds" in page.text or "●holds" in page.text.replace("● ", "●")
    assert re.search(r"✕ ?flexion 2\.0° beyond", page.text)
    assert re.search(r"Joints outside the bony range 1 ✕ ?fails", page.text)
    assert re.search(r"Distance margin \d+ mm ● ?holds", page.text)


@pytest.mark.parametrize(
    "words",
    [
        "balanced to rounding",
        "Box beast",
        "neck raised, tail down",
        "2030-01-02 03:04 UTC",
        "licensed structural engineer",
        "lead-bearing alloys are for trained people",
        "risk assessment",
        "inside the bony range",
        "8 800 ± 100 kg/m³",
        "made up for the test",
        "numpy",
    ],
)
def test_what_has_to_be_said_is_said(page: Page, words: str) -> None:
    assert words in page.text


def read_peaks(page: Page) -> dict[str, str]:
    """What stands behind each chain in the table of greatest values."""
    text = page.text[page.text.index("Greatest values") : page.text.index("Shear and bending: both axes")]
    starts = sorted((text.index(f" {name} "), name) for name in BEAMS)
    ends = [start for start, _ in starts[1:]] + [len(text)]
    return {name: text[start:end] for (start, name), end in zip(starts, ends, strict=True)}


def test_peaks_of_neck_and_tail_are_the_weights_beyond(box_document: Kept) -> None:
    """Cut at the base of neck and tail of a straight animal: what hangs beyond bends by its weight and its lever."""
    document, _ = box_document
    found = assess(document.skeleton, document.poses[0], document.build, document.site)
    peaks = read_peaks(Page(render(document, document.poses[0])))
    for name, base, series in (("Neck", "cervical 5", ("cervical", "skull")), ("Tail", "caudal 1", ("caudal",))):
        of = {element.name: element.series for element in document.skeleton.elements}
        masses = [mass for mass in found.masses if of[mass.element] in series]
        joint = next(load for load in found.joints if load.child == base)
        force = 9.80665 * sum(m.mass_kg for m in masses)
        moment = 9.80665 * sum(m.mass_kg * (m.centre_m - joint.point_m)[:2] for m in masses)
        told = re.findall(r"([\d.,]+) (k?)N·m ([a-z]+ \d+)", peaks[name])
        size = float(np.linalg.norm(moment))
        assert any(p == base and float(v) * (1000 if k else 1) == pytest.approx(size, rel=0.02) for v, k, p in told)
        assert float(np.hypot(*joint.force_N[:2])) < 1e-9 < abs(joint.force_N[2]) == pytest.approx(force)


def test_mass_of_the_greatest_piece_is_that_of_its_box(box_document: Kept, page: Page) -> None:
    document, _ = box_document
    volumes = {element.name: element.solid.volume_m3 for element in document.skeleton.elements}
    name = max(volumes, key=lambda own: volumes[own])
    told = page.text[page.text.index("The greatest pieces") :]
    cells = re.search(r"Mass from ([a-z]+ leg [LR]) limb ([\d.]+) [\d.]+ [\d.]+ % calculated", told)
    assert cells is not None
    assert volumes[cells[1]] == pytest.approx(volumes[name])
    assert float(cells[2]) == pytest.approx(8800 * volumes[name], rel=1e-3)


def test_balance_under_actions_is_told(box_document: Kept) -> None:
    """A push that the feet cannot hold: what is used up, what would hold it, that factors are to be confirmed."""
    document, _ = box_document
    push = PointAction("shove", "push", "skull", (0.0, 0.0, 0.0), 900.0, (0.0, 1.0, 0.0))
    page = Page(render(replace(document, site=replace(document.site, actions=(push,))), document.poses[0]))
    assert "shove: push of 900 N at skull, in direction (0, 1, 0)." in page.text
    assert "shove, 900 N towards 90°" in page.text
    found = re.search(
        r"shove, 900 N towards 90° \d: \w+ \w+ L – \w+ \w+ L ([\d.]+) (k?)N·m ([\d.]+) k?N·m (\d+) %", page.text
    )
    assert found is not None
    assert float(found[4]) == pytest.approx(100 * float(found[1]) / float(found[3]), rel=0.01)
    assert float(found[4]) > 100
    assert "Anchors that would hold it" in page.text
    assert "to be confirmed" in page.text
    assert "keep no equilibrium under it" in page.text


def test_names_cannot_break_the_page(box_document: Kept) -> None:
    document, _ = box_document
    nasty = '</style><script>alert("1")</script>&'
    skeleton = replace(document.skeleton, name=nasty)
    pose = Pose(nasty, note=nasty)
    page = Page(render(replace(document, skeleton=skeleton), pose))
    assert "script" not in page.tags
    assert nasty in page.text
    assert page.tags.count("style") == 1


def test_text_inside_style_sheets_is_escaped() -> None:
    assert escape_css('a"</b') == "a\\22 \\3c \\2f b"


def test_without_feet_the_page_says_what_is_not_known(box_document: Kept) -> None:
    document, _ = box_document
    page = Page(render(replace(document, skeleton=replace(document.skeleton, feet=())), document.poses[0]))
    assert "does not stand by itself" in page.text
    assert "The skeleton has no feet" in page.text
    assert re.search(r"Tip angle not known", page.text)
    assert re.search(r"Stands \? ?not known", page.text)
    assert page.text.count("the skeleton names no point that may touch the ground") == 1
    assert "as for Stands" in page.text


def test_a_single_element_has_a_page(box_document: Kept) -> None:
    document, _ = box_document
    alone = build_skeleton("one box", document.skeleton.elements[:1], ())
    page = Page(render(replace(document, skeleton=alone, poses=()), Pose("as it lies")))
    assert "No joint of this skeleton moves" in page.text
    assert page.tags.count("svg") == 3


def test_limits_that_are_not_known_are_not_shown_as_inside(box_document: Kept) -> None:
    document, _ = box_document
    joints = tuple(replace(joint, limits=None, settings=None) for joint in document.skeleton.joints)
    page = Page(render(replace(document, skeleton=replace(document.skeleton, joints=joints)), document.poses[1]))
    assert "in not known" in page.text
    assert "inside the bony range" in page.text
    assert not re.search(r"● ?inside", page.text)
    assert "22 without known limits" in page.text


def test_axes_that_a_hinge_holds_are_shown_as_held(box_document: Kept) -> None:
    document, _ = box_document
    moving = [joint for joint in document.skeleton.joints if joint.limits is not None]
    hinges = tuple(
        replace(joint, limits=(joint.limits[0], HELD, HELD)) if joint.limits is not None else joint
        for joint in document.skeleton.joints
    )
    page = Page(render(replace(document, skeleton=replace(document.skeleton, joints=hinges)), Pose("straight")))
    assert page.text.count("0.0, held") == 2 * len(moving) > 0


def test_records_and_what_stood_elsewhere_are_told(box_document: Kept) -> None:
    """A pose as mounted is held against how the elements stand now; of any other nothing is said."""
    document, _ = box_document
    places = {element.name: element.X_WE for element in document.skeleton.elements}
    away = np.eye(4)
    away[:3, 3] = (0.0, 0.003, 0.004)
    places["dorsal 2"] = away @ places["dorsal 2"]
    before = Pose("as mounted before", note="As it stood.", mounted=places)
    record = Record(
        "correction", "turned", ("dorsal 2",), "moved", "it stood aside", "5 mm", "me", "2026-11-27T03:10:00Z"
    )
    told = Page(render(replace(document, poses=(*document.poses, before), records=(record,)), before)).text
    assert "As mounted before As it stood. These elements stood elsewhere" in told
    assert "dorsal 2 5.0 0.0" in told
    assert "Corrections and overrides" in told
    assert "it stood aside evidence 5 mm" in told
    assert "stood elsewhere" not in Page(render(document, document.poses[1])).text


def test_where_self_weight_uses_up_what_holds_no_force_is_drawn_as_allowed(box_document: Kept) -> None:
    document, pose = box_document[0], box_document[0].poses[1]
    told = Page(render(document, pose)).text
    assert "allowed by EQU, alone" in told
    assert "allow nothing in any direction" not in told
    heavy = replace(document.site, factors=replace(document.site.factors, permanent_for=0.0))
    told = Page(render(replace(document, site=heavy), pose)).text
    assert "allowed by EQU: none" in told
    assert "allowed by EQU, alone" not in told
    assert "allow nothing in any direction" in told


def test_bars_and_table_of_mass_name_the_same_series(box_document: Kept) -> None:
    skeleton, pose = box_document[0].skeleton, box_document[0].poses[1]
    found = assess(skeleton, pose, box_document[0].build, box_document[0].site)
    pieces = list_pieces(skeleton, found)
    lines = list_series_masses(pieces, found)
    bars = draw_masses(pieces, "masses")
    names = [line.cells[0] for line in lines]
    assert names[-1] == "whole"
    assert {"neck", "tail"} <= set(names)
    at = [bars.index(f">{name}<") for name in names[:-1]]
    assert at == sorted(at)
