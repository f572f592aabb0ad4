"""On real bones: a symmetric model of a dog shows nothing; one of its vertebrae turned is told, and no other."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.inspection.inspection import inspect
from core_calcs.mesh.records import Survey
from core_calcs.skeleton.proposal import propose_table
from core_calcs.studies.survey import survey_folder

TURNED = "BONEL_3.stl"


def inspect_survey(survey: Survey):
    return inspect(propose_table(survey), survey)


@pytest.mark.dog
def test_a_symmetric_model_shows_nothing(dog_survey: Survey) -> None:
    found = inspect_survey(dog_survey)
    assert found.findings == ()
    assert found.laid_out
    assert found.mirrored == found.pairs > 80


@pytest.mark.dog
def test_a_turned_lumbar_vertebra_is_told(dog_folder: Path, tmp_path: Path) -> None:
    for path in dog_folder.glob("*.stl"):
        if path.name != TURNED:
            shutil.copy(path, tmp_path)
    mesh = trimesh.load(dog_folder / TURNED, process=False)
    middle = mesh.bounds.mean(axis=0)
    vertices = (np.array(mesh.vertices) - middle) * (-1, -1, 1) + middle
    (tmp_path / TURNED).write_bytes(trimesh.Trimesh(vertices, mesh.faces, process=False).export(file_type="stl"))
    (finding,) = inspect_survey(survey_folder(tmp_path, "m")).findings
    assert (finding.kind, finding.element) == ("orientation", "L3")
    assert "stand end for end:" in finding.what
