"""The slow checks in a Python of its own say what they say in this one."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from core_calcs.document.reading import document_to_text
from core_calcs.site.actions import Wind
from core_calcs.site.site import Site
from core_calcs.skeleton.pose import Pose
from core_calcs.studies.acting import measure_poses, prepare_outlines
from core_calcs.studies.clearance import find_clearance, prepare_clearance
from core_calcs.studies.rest_checks import RestAnswer, RestOrder
from core_calcs.studies.rest_worker import RestWorker, can_start


def wait_for(worker: RestWorker, number: int) -> list[RestAnswer]:
    found: list[RestAnswer] = []
    end = time.monotonic() + 60
    while time.monotonic() < end and worker.is_alive():
        found += worker.listen()
        if any(own.over and own.number == number for own in found):
            return [own for own in found if own.number == number]
        time.sleep(0.01)
    raise AssertionError("the worker has not answered")


@pytest.fixture
def worker():
    assert can_start()
    own = RestWorker()
    yield own
    own.end()
    assert not own.is_alive()


def test_what_it_finds_is_what_is_found_here(worker, box_document) -> None:
    document, path = box_document
    document = replace(document, site=Site(wind=Wind(600.0), directions=6))
    folder = path.parent / document.mesh_folder
    crossed = Pose("curled", {f"caudal {i}": np.radians([0.0, 9.0, 0.0]) for i in range(1, 11)})
    worker.ask(RestOrder(1, document_to_text(document), str(folder), (crossed,), (crossed,)))
    answers = wait_for(worker, 1)
    assert not answers[-1].problem
    shares = [own.share for own in answers if own.doing]
    assert shares == sorted(shares)
    assert len(shares) > 3
    (clearance,) = [own.clearance for own in answers if own.clearance is not None]
    expected = find_clearance(prepare_clearance(document.skeleton, folder), crossed, document.site)
    assert [hit.elements for hit in clearance.hits] == [hit.elements for hit in expected.hits]
    assert [hit.depth_m for hit in clearance.hits] == pytest.approx([hit.depth_m for hit in expected.hits], abs=1e-9)
    (shown,) = [own.shown for own in answers if own.shown is not None]
    (own,) = measure_poses(document.skeleton, [crossed], 6, prepare_outlines(document.skeleton.elements, folder))
    np.testing.assert_allclose(shown.areas.area_m2, own.areas.area_m2, atol=1e-12)
    np.testing.assert_allclose(shown.areas.shared_m2, own.areas.shared_m2, atol=1e-12)
    # The next order goes by what is ready.
    worker.ask(RestOrder(2, "", str(folder), (Pose("neutral"),)))
    answers = wait_for(worker, 2)
    assert [own.doing for own in answers if own.doing] == ["clearance in neutral"]


def test_a_newer_order_replaces_an_older_one(worker, box_document) -> None:
    document, path = box_document
    folder = path.parent / document.mesh_folder
    worker.ask(RestOrder(1, document_to_text(document), str(folder), tuple(Pose(f"p{i}") for i in range(200))))
    worker.ask(RestOrder(2))
    assert [own.over for own in wait_for(worker, 2)] == [True]


def test_a_missing_file_is_told(worker, box_document) -> None:
    document, path = box_document
    nowhere = path.parent / document.mesh_folder / "nowhere"
    worker.ask(RestOrder(1, document_to_text(document), str(nowhere), (Pose("neutral"),)))
    assert "nowhere" in wait_for(worker, 1)[-1].problem
