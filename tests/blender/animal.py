"""A made-up animal for the tests: ellipsoid vertebrae in a row and four posts for legs, as STL files in millimetres."""

from __future__ import annotations

from pathlib import Path

import numpy as np

VERTEBRAE = 9
STEP_MM = 60.0
ROOT = "V5"
COLUMNS = "file,body,unit,element,series,position,side,parent,also,attachment,reason,origin"


def write_animal(folder: Path) -> list[str]:
    """Write the STL files; returns the rows of the element table, header first.

    V1 is nearest the head (x up), V5 is the root; two legs hang on V2, two on V8.
    """
    folder.mkdir(parents=True, exist_ok=True)
    rows = [COLUMNS]
    for i in range(1, VERTEBRAE + 1):
        x = STEP_MM * (5 - i)
        # three different half-axes and a tilt: no symmetry that could hide a wrong turn
        write_stl(folder / f"V{i}.stl", make_ellipsoid((26, 14 + i, 18), (x, 0, 400), 0.1 * i))
        parent = "" if i == 5 else f"V{i + 1}" if i < 5 else f"V{i - 1}"
        attachment = "root" if i == 5 else "fixed"
        series = "sacral" if i == 5 else "dorsal" if i < 5 else "caudal"
        position = i if i < 5 else 1 if i == 5 else i - 5
        reason = "" if i == 5 else "no facets on an ellipsoid"
        rows.append(f"V{i}.stl,,mm,V{i},{series},{position},middle,{parent},,{attachment},{reason},sculpted")
    for parent, x in (("V2", STEP_MM * 3), ("V8", -STEP_MM * 3)):
        for side, y in (("left", 70.0), ("right", -70.0)):
            name = f"leg {parent} {side}"
            write_stl(folder / f"{name}.stl", make_box((30, 24, 390), (x, y, 195)))
            rows.append(f"{name}.stl,,mm,{name},limb,,{side},{parent},,fixed,a post,sculpted")
    return rows


def make_ellipsoid(
    half_mm: tuple[float, float, float], centre_mm: tuple[float, float, float], tilt: float
) -> np.ndarray:
    """Triangles (n, 3, 3) of a closed ellipsoid, tilted about y."""
    rings, around = 12, 20
    polar = np.linspace(0, np.pi, rings + 1)[1:-1]
    turn = np.linspace(0, 2 * np.pi, around, endpoint=False)
    grid = np.stack(
        [
            np.sin(polar)[:, None] * np.cos(turn),
            np.sin(polar)[:, None] * np.sin(turn),
            np.repeat(np.cos(polar)[:, None], around, axis=1),
        ],
        axis=-1,
    )
    top, bottom = np.array([0.0, 0.0, 1.0]), np.array([0.0, 0.0, -1.0])
    after = np.roll(grid, -1, axis=1)
    faces = [np.stack([np.broadcast_to(top, grid[0].shape), grid[0], after[0]], axis=1)]
    for upper in range(rings - 2):
        faces.append(np.stack([grid[upper], grid[upper + 1], after[upper + 1]], axis=1))
        faces.append(np.stack([grid[upper], after[upper + 1], after[upper]], axis=1))
    faces.append(np.stack([grid[-1], np.broadcast_to(bottom, grid[-1].shape), after[-1]], axis=1))
    c, s = np.cos(tilt), np.sin(tilt)
    turned = (np.concatenate(faces) * half_mm) @ np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]]).T
    return turned + np.array(centre_mm)


def make_box(sides_mm: tuple[float, float, float], centre_mm: tuple[float, float, float]) -> np.ndarray:
    """Triangles (12, 3, 3) of a box."""
    corners = np.array([[x, y, z] for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (-0.5, 0.5)])
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    triangles = [t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))]
    return corners[np.array(triangles)] * sides_mm + np.array(centre_mm)


def make_taper(sides_mm: tuple[float, float, float], narrow: float) -> np.ndarray:
    """Triangles (12, 3, 3) of a box about the origin whose end at -x is narrower and lower by a share."""
    box = make_box(sides_mm, (0.0, 0.0, 0.0))
    box[..., 1:] *= np.where(box[..., :1] < 0, narrow, 1.0)
    return box


def make_vertebra(x_mm: float) -> np.ndarray:
    """Triangles (n, 3, 3) of a vertebra 100 mm from its neighbours: discs of 10 mm, zygapophyses 4 mm apart."""
    blocks = (
        ((90, 80, 60), (0, 0, 0)),
        ((50, 10, 50), (0, 30, 45)),
        ((50, 10, 50), (0, -30, 45)),
        ((40, 70, 10), (0, 0, 75)),
    )
    parts = [make_box(*block) for block in blocks]
    for side in (1, -1):
        # The facet that looks to the head looks to back and middle, 45° each; its partner of the next lies on it.
        normal = np.array([0, -side, 1]) / np.sqrt(2)
        turn = np.array([(1.0, 0.0, 0.0), np.cross(normal, (1.0, 0.0, 0.0)), normal])
        foot = np.array([0, side * 34.0, 62.0])
        for end, high in ((50, -3.0), (-50, 7.0)):
            parts.append(make_box((36, 28, 6), (0, 0, 0)) @ turn + foot + (end, 0, 0) + high * normal)
    return np.concatenate(parts) + np.array([x_mm, 0, 300])


def write_stl(path: Path, triangles: np.ndarray) -> None:
    """Binary STL."""
    record = np.zeros(len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    record["corners"] = triangles
    path.write_bytes(b"made-up animal".ljust(80, b" ") + np.uint32(len(triangles)).tobytes() + record.tobytes())
