"""A made-up animal in memory: a row of lumps with a front and a back, and a leg of three bones on each side."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import pytest
import trimesh

from core_calcs.inspection.finding import Finding
from core_calcs.inspection.inspection import Inspection, inspect
from core_calcs.mesh.duplicates import mark_duplicates
from core_calcs.mesh.records import FileRecord, Survey
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import join_pieces, make_record, survey_piece
from core_calcs.skeleton.table import TableRow

STEP = 0.06
LEG = (("femur", 0.30, 0.035), ("tibia", 0.24, 0.028), ("foot", 0.10, 0.02))
"""Name, length and thickness [m], from the hip down."""
HALF = np.diag([-1.0, -1.0, 1.0])


@dataclass
class Animal:
    """Vertices by element, over the faces of one ball; rows of its table."""

    vertices: dict[str, np.ndarray] = field(default_factory=dict)
    rows: dict[str, TableRow] = field(default_factory=dict)
    extra: dict[str, list[np.ndarray]] = field(default_factory=dict)

    def change(self, name: str, by: Callable[[np.ndarray], np.ndarray]) -> None:
        self.vertices[name] = by(self.vertices[name])

    def set(self, name: str, **values: object) -> None:
        self.rows[name] = replace(self.rows[name], **values)  # type: ignore[arg-type]

    def drop(self, name: str) -> None:
        del self.vertices[name], self.rows[name]

    def swap(self, one: str, other: str) -> None:
        self.vertices[one], self.vertices[other] = self.vertices[other], self.vertices[one]

    def inspect(self) -> Inspection:
        files = []
        for name, vertices in self.vertices.items():
            meshes = [vertices, *self.extra.get(name, [])]
            pieces = [survey_piece(Surface(np.array(mesh, float), FACES)) for mesh in meshes]
            bodies = tuple(make_record(number, *piece) for number, piece in enumerate(pieces, start=1))
            whole = make_record(None, *join_pieces(pieces))
            files.append(FileRecord(f"{name}.stl", name, "mm", "read", "", whole, bodies))
        return inspect(tuple(self.rows.values()), Survey("mm", mark_duplicates(tuple(files))))

    def find(self) -> list[tuple[str, str]]:
        return [(finding.kind, finding.element) for finding in self.inspect().findings]

    def the_one(self) -> Finding:
        (finding,) = self.inspect().findings
        return finding


BALL = trimesh.creation.icosphere(subdivisions=3)
FACES = np.array(BALL.faces, np.int64)
UNIT = np.array(BALL.vertices, float)


def make_vertebra(size: float, seed: int) -> np.ndarray:
    """A lump with a spine that leans backwards, uneven by its own seed."""
    rng = np.random.default_rng(seed)
    x, y, z = (UNIT * (0.45, 0.55, 0.5)).T
    spine = np.exp(-20 * (x + 0.1) ** 2 - 30 * y**2) * (z > 0)
    uneven = 1 + 0.01 * np.sin(UNIT @ rng.normal(size=3) * 5 + rng.uniform(0, 6))
    return np.stack([x - 0.9 * spine, y, z + 1.2 * spine], axis=1) * uneven[:, None] * size


def make_leg_bone(length: float, thick: float, seed: int) -> np.ndarray:
    """A rod with a knob in front at its upper and a larger one outwards at its lower end; of the left side."""
    rng = np.random.default_rng(seed)
    x, y, z = (UNIT * (thick / 2, thick / 2, length / 2)).T
    upper, lower = np.exp(-((z / length - 0.4) ** 2) * 60), np.exp(-((z / length + 0.4) ** 2) * 60)
    uneven = 1 + 0.01 * np.sin(UNIT @ rng.normal(size=3) * 5 + rng.uniform(0, 6))
    return np.stack([x + 0.8 * thick * upper, y + 1.1 * thick * lower, z], axis=1) * uneven[:, None]


@pytest.fixture
def animal() -> Animal:
    """Ten back vertebrae, V1 at the head, the fifth the root; legs on it: sound."""
    made = Animal()
    for n in range(1, 11):
        size = 0.05 * (1 + 0.02 * n)
        made.vertices[f"V{n}"] = make_vertebra(size, n) + np.array([-STEP * n, 0, 1])
        parent, attachment = ("", "root") if n == 5 else (f"V{n + 1}" if n < 5 else f"V{n - 1}", "column")
        made.rows[f"V{n}"] = make_row(f"V{n}", "dorsal", n, "middle", parent, attachment)
    for seed, (side, ending) in enumerate((("left", ".L"), ("right", ".R"))):
        end, parent = np.array([-STEP * 5, 0.03, 0.97]), "V5"
        for name, length, thick in LEG:
            bone = make_leg_bone(length, thick, 10 * seed + len(name))
            bone += end - (0, 0, 0.003) - bone[bone[:, 2].argmax()]
            end = bone[bone[:, 2].argmin()]
            made.vertices[name + ending] = bone * (1, 1 if side == "left" else -1, 1)
            made.rows[name + ending] = make_row(name + ending, "limb", None, side, parent, "fixed")
            parent = name + ending
    return made


def make_row(name: str, series: str, position: int | None, side: str, parent: str, attachment: str) -> TableRow:
    reason = "by hand" if attachment == "fixed" else ""
    return TableRow(f"{name}.stl", None, "mm", name, series, position, side, parent, attachment, reason, "scanned")  # type: ignore[arg-type]
