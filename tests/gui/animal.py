"""A small made-up animal for the window: eight vertebrae with facets and four posts for legs, as STL files."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import trimesh

TESTS = Path(__file__).resolve().parents[1]
PITCH_CM = 6.0
HEIGHT_CM = 40.0
COLUMN = ("Sacrum", "L7", "L6", "L5", "L4", "L3", "L2", "L1")


def write_animal(folder: Path) -> int:
    """Write the files, centimetres, so that the unit must be chosen; returns how many elements they hold."""
    spec = importlib.util.spec_from_file_location("made_up_column", TESTS / "made_up_column.py")
    column = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(column)
    folder.mkdir(parents=True)
    last = len(COLUMN) - 1
    parts = {name: column.make_vertebra(float(i), head=i < last, tail=i > 0) for i, name in enumerate(COLUMN)}
    for name, x in (("Humerus", last), ("Femur", 0)):
        for side, y in (("L", 1.2), ("R", -1.2)):
            parts[f"{name}.{side}"] = column.make_box((0.5, 0.4, 6.4), (x, y, -3.4))
    for name, surface in parts.items():
        placed = surface.vertices * PITCH_CM + (0, 0, HEIGHT_CM)
        trimesh.Trimesh(placed, surface.faces, process=False).export(folder / f"{name}.stl")
    return len(parts)
