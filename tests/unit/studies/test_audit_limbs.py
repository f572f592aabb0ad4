"""The limbs of a document audited: two phalanges of a made-up hand that stand in each other's place."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import trimesh

sys.path.insert(0, str(Path(__file__).parents[2]))
from made_up_hands import make_hands
from swapped_bones import Swap, exchange

from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.site.site import Site
from core_calcs.skeleton.table import TableRow
from core_calcs.spatial.errors import DocumentError
from core_calcs.spatial.transforms import apply
from core_calcs.studies.articulate import articulate
from core_calcs.studies.audit_limbs import audit_limbs
from core_calcs.studies.survey import survey_folder

SWAP = Swap("phalanges", "hand phalanx 2-1 left", "hand phalanx 2-2 left")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The scans of a mount, each where it stands and called by that."""
    path = tmp_path_factory.mktemp("hands")
    surfaces = make_hands()
    laid = exchange(surfaces, SWAP, np.random.default_rng(3))
    for name, surface in surfaces.items():
        called = {SWAP.one: SWAP.other, SWAP.other: SWAP.one}.get(name, name)
        vertices = apply(laid.get(name, np.eye(4)), surface.vertices)
        trimesh.Trimesh(vertices, surface.faces, process=False).export(path / f"{called}.stl")
    return path


def make_row(name: str) -> TableRow:
    side = name.rpartition(" ")[2]
    root = "humerus left"
    attachment, parent = ("root", "") if name == root else ("fixed", root)
    reason = "" if name == root else "held"
    return TableRow(f"{name}.stl", None, "m", name, "limb", None, side, parent, attachment, reason, "not known")


@pytest.fixture(scope="module")
def document(folder):
    skeleton = articulate([make_row(name) for name in make_hands()], survey_folder(folder, "m"), folder, "hands")
    return SkeletonDocument(skeleton, (), default_build(), Site(), str(folder))


def test_the_exchanged_bones_are_told_and_their_places(document, folder):
    told = []
    verdicts = audit_limbs(document, folder, lambda doing, share: told.append(share))
    (wrong,) = [verdict for verdict in verdicts if verdict.decision == "wrong"]
    assert set(wrong.elements) == {SWAP.one, SWAP.other}
    for name, other in ((SWAP.one, SWAP.other), (SWAP.other, SWAP.one)):
        surface = trimesh.load_mesh(folder / f"{name}.stl")
        right = apply(wrong.places[name], surface.vertices).mean(axis=0)
        np.testing.assert_allclose(
            right, make_hands()[other].vertices[make_hands()[other].faces].mean(axis=(0, 1)), atol=4e-3
        )
    assert told == sorted(told)
    assert told[0] >= 0
    assert told[-1] <= 1


def test_a_missing_file_is_refused(document, tmp_path):
    with pytest.raises(DocumentError, match="does not hold"):
        audit_limbs(document, tmp_path)
