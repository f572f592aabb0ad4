"""The page that compares poses, held against each pose's own figures."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from core_calcs.document.document import SkeletonDocument
from core_calcs.handover.comparison_report import render_comparison
from core_calcs.handover.quantities import format_quantity
from core_calcs.studies.assess import assess
from tests.unit.handover.page import Page

Kept = tuple[SkeletonDocument, Path]


@pytest.fixture(scope="module")
def compared(box_document: Kept) -> tuple[Page, list]:
    document, _ = box_document
    found = [assess(document.skeleton, pose, document.build, document.site) for pose in document.poses]
    folders = {own.pose: f"folder_{i}" for i, own in enumerate(found)}
    return Page(render_comparison(document, found, folders, datetime(2030, 1, 2, tzinfo=UTC))), found


def row_of(page: Page, pose: str, folder: str) -> str:
    rest = page.text[page.text.index(f"{pose} {folder}/") :]
    return rest[: re.search(r"folder_\d/ .*?(folder_\d/|All of it|● holds   )", rest).end()]


def test_every_pose_has_its_own_figures(compared: tuple[Page, list]) -> None:
    page, found = compared
    for i, own in enumerate(found):
        row = row_of(page, own.pose, f"folder_{i}")
        assert format_quantity(own.mass_kg, "kg") in row
        assert format_quantity(own.distance_margin_m, "m") in row
        assert format_quantity(own.tip_angle_rad, "rad") in row
        assert format_quantity(max(foot.force_N for foot in own.feet), "N") in row


def test_best_margin_is_the_greater(compared: tuple[Page, list]) -> None:
    page, found = compared
    best = max(found, key=lambda own: own.distance_margin_m)
    assert len({own.distance_margin_m for own in found}) == 2
    row = row_of(page, best.pose, f"folder_{found.index(best)}")
    assert f"{format_quantity(best.distance_margin_m, 'm')} best" in row
    worst = min(found, key=lambda own: own.distance_margin_m)
    row = row_of(page, worst.pose, f"folder_{found.index(worst)}")
    assert f"{format_quantity(worst.distance_margin_m, 'm')} worst" in row


def test_nothing_is_fetched_and_what_is_not_known_is_told(box_document: Kept) -> None:
    document, _ = box_document
    hung = replace(document, skeleton=replace(document.skeleton, feet=()))
    found = [assess(hung.skeleton, pose, hung.build, hung.site) for pose in hung.poses]
    page = Page(render_comparison(hung, found, {own.pose: "x" for own in found}, datetime(2030, 1, 2, tzinfo=UTC)))
    assert not {"script", "link", "img"} & set(page.tags)
    assert page.references, "the bars refer to shapes of their own"
    assert all(reference.startswith("#") and reference[1:] in page.ids for reference in page.references)
    assert page.text.count("not known") >= 6
