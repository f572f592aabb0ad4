"""A small made-up animal for the window, as STL files: eight vertebrae with facets, one of them mounted upside down,
posts for legs, a knee behind.

python tests/gui/animal.py FOLDER      writes them there, in centimetres
"""

from __future__ import annotations

import importlib.util
import math
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import trimesh

TESTS = Path(__file__).resolve().parents[1]
PITCH_CM = 6.0
HEIGHT_CM = 40.0
TURNED = "L2"
"""Mounted upside down."""
COLUMN = ("Sacrum", "L7", "L6", "L5", "L4", "L3", "L2", "L1")


def make_roller(column: ModuleType, y: float, z: float) -> Any:
    """The round lower end of a thigh bone, about an axis along y; the flat bone below it does not tell the axis."""
    about_x = column.make_sector(0.1, 0.4, -math.pi + 0.05, -0.05, -0.25, 0.25)
    points = about_x.vertices[:, [1, 0, 2]] * (-1, 1, 1) + (0, y, z)
    return column.join(type(about_x)(points, about_x.faces))


def write_animal(folder: Path) -> int:
    """Write the files, centimetres, so that the unit must be chosen; returns how many elements they hold."""
    spec = importlib.util.spec_from_file_location("made_up_column", TESTS / "made_up_column.py")
    column = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(column)
    folder.mkdir(parents=True)
    last = len(COLUMN) - 1
    parts = {name: column.make_vertebra(float(i), head=i < last, tail=i > 0) for i, name in enumerate(COLUMN)}
    for side, y in (("L", 1.2), ("R", -1.2)):
        parts[f"Humerus.{side}"] = column.make_box((0.5, 0.4, 6.4), (last, y, -3.4))
        shaft, roller = column.make_box((0.4, 0.4, 3.35), (0, y, -1.875)), make_roller(column, y, -3.4)
        parts[f"Femur.{side}"] = column.join(shaft, roller)
        parts[f"Tibia.{side}"] = column.make_box((0.6, 0.5, 2.4), (0, y, -5.4))
    for name, surface in parts.items():
        points = surface.vertices
        if name == TURNED:
            middle = (points.min(axis=0) + points.max(axis=0)) / 2
            points = middle + (points - middle) * (1, -1, -1)
        placed = points * PITCH_CM + (0, 0, HEIGHT_CM)
        trimesh.Trimesh(placed, surface.faces, process=False).export(folder / f"{name}.stl")
    return len(parts)


if __name__ == "__main__":
    print(f"{write_animal(Path(sys.argv[1]))} elements in {sys.argv[1]}, in centimetres")
