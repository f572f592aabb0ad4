"""A made-up animal of boxes and the command line run on it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import trimesh
from click.testing import CliRunner, Result

from core_calcs.cli import main

DENSITY = 8360.0
"""Of the default build, UNS C87300 [kg/m³]: Copper Development Association data sheet."""

# name, centre and size [mm]: boxes, so that volume and mass are exact
BOXES = {
    "T1": ((260, 0, 1000), (110, 80, 80)),
    "L1": ((140, 0, 1000), (110, 80, 80)),
    "sacrum": ((0, 0, 1000), (150, 100, 100)),
    "Ca1": ((-140, 0, 1000), (110, 60, 60)),
    "scapula_L": ((260, 110, 850), (90, 40, 260)),
    "scapula_R": ((260, -110, 850), (90, 40, 260)),
    "humerus_L": ((260, 110, 355), (60, 60, 710)),
    "humerus_R": ((260, -110, 355), (60, 60, 710)),
    "femur_L": ((0, 110, 480), (70, 70, 960)),
    "femur_R": ((0, -110, 480), (70, 70, 960)),
}
VOLUME_M3 = sum(float(np.prod(size)) for _, size in BOXES.values()) * 1e-9


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def write_box(path: Path, centre: tuple[float, float, float], size: tuple[float, float, float]) -> None:
    mesh = trimesh.creation.box(extents=size).subdivide().subdivide()
    mesh.apply_translation(centre)
    mesh.export(path)


@dataclass(frozen=True)
class Place:
    """Where a made-up animal and what was made of it lie."""

    folder: Path

    @property
    def meshes(self) -> Path:
        return self.folder / "scans"

    @property
    def table(self) -> Path:
        return self.folder / "elements.csv"

    @property
    def document(self) -> Path:
        return self.folder / "animal.json"


def list_files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
