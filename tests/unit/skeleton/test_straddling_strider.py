"""What the demo's animal was made to straddle is proposed to follow two, and nothing else is."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import numpy as np
import pytest

from core_calcs.mesh.records import FileRecord, Survey
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import join_pieces, make_record, survey_piece
from core_calcs.skeleton.proposal import propose_table

sys.path.insert(0, str(Path(__file__).parents[3] / "demo_blend"))
from strider.animal import ROUGHNESS, make_vertebra_mesh, name_vertebra
from strider.column import plan_column
from strider.solids import make_mesh, roughen
from strider.trunk import plan_chevrons, plan_trunk

DETAIL = 0.35
VERTEBRAE = [f"dorsal {n}" for n in (10, 11, 12)] + ["sacrum"] + [f"caudal {n}" for n in range(1, 6)]
"""A stretch of the column; what hangs on it is what its generator hung there."""


@pytest.fixture(scope="module")
def survey() -> Survey:
    column = plan_column()
    meshes = {name_vertebra(v): make_vertebra_mesh(v, 1, DETAIL) for v in column if name_vertebra(v) in VERTEBRAE}
    bones = [*plan_trunk(column), *plan_chevrons(column)]
    bones = [bone for bone in bones if bone.parent in VERTEBRAE[:-1] and re.search("rib|chevron", bone.name)]
    for i, bone in enumerate(bones):
        solid = roughen(bone.solid, bone.reach, ROUGHNESS * bone.reach, np.random.default_rng(i))
        meshes[bone.name] = make_mesh(solid, bone.centre, 1.15 * bone.reach, bone.reach / 42 / DETAIL)
    return Survey("m", tuple(make_file(name, *mesh) for name, mesh in sorted(meshes.items())))


def make_file(name: str, vertices: np.ndarray, faces: np.ndarray) -> FileRecord:
    found = survey_piece(Surface(np.asarray(vertices, float), np.asarray(faces, np.int64)))
    record = make_record(None, *join_pieces([found]))
    return FileRecord(f"{name.replace(' ', '_')}.stl", name, "m", "read", "", record, (make_record(1, *found),))


def test_chevrons_follow_the_two_that_they_were_made_between_and_ribs_their_own(survey: Survey) -> None:
    """Chevron n hangs under the joint of caudal n and n + 1, a rib beside the middle of its vertebra, a belly rib far
    below."""
    rows = propose_table(survey)
    names = {row.file: row.element for row in rows}
    two = lambda n: {names[f"caudal_{n}.stl"], names[f"caudal_{n + 1}.stl"]}  # noqa: E731
    found = {row.file: {row.parent, row.also} for row in rows if row.also}
    assert found == {f"chevron_{n}.stl": two(n) for n in range(1, 5)}
    assert sum(row.file.startswith(("rib", "belly_rib")) for row in rows) == 6 + 8
