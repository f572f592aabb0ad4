"""What can be wrong with a scan: each function takes a sound one and returns it spoilt."""

from __future__ import annotations

import struct
from dataclasses import replace

import numpy as np

from .scans import Scan, encode_scan
from .solids import Array

INCH_MM = 25.4


def turn_about(scan: Scan, axis: Array) -> Scan:
    """Turned by half about an axis through the middle of its box."""
    unit = axis / np.linalg.norm(axis)
    off = scan.vertices - middle_of(scan)
    return replace(scan, vertices=middle_of(scan) + 2 * np.outer(off @ unit, unit) - off)


def middle_of(scan: Scan) -> Array:
    """(3,) middle of the bounding box [mm]."""
    return (scan.vertices.min(axis=0) + scan.vertices.max(axis=0)) / 2


def size_of(scan: Scan) -> float:
    """Diagonal of the bounding box [mm]."""
    return float(np.linalg.norm(np.ptp(scan.vertices, axis=0)))


def move_by(scan: Scan, offset: Array) -> Scan:
    return replace(scan, vertices=scan.vertices + offset)


def scale_by(scan: Scan, factor: float) -> Scan:
    """Larger or smaller about its middle."""
    middle = middle_of(scan)
    return replace(scan, vertices=middle + (scan.vertices - middle) * factor)


def change_unit(scan: Scan) -> Scan:
    """The numbers of a file in inches, although the table says millimetres."""
    return replace(scan, vertices=scan.vertices / INCH_MM)


def give_mesh_of(scan: Scan, other: Scan) -> Scan:
    """The file and row of one, the mesh of another."""
    return replace(scan, vertices=other.vertices, faces=other.faces)


def mirror(scan: Scan) -> Scan:
    """Its image on the other side of the mid-plane y = 0."""
    return replace(scan, vertices=scan.vertices * (1, -1, 1), faces=scan.faces[:, ::-1])


def cut_hole(scan: Scan, rng: np.random.Generator) -> Scan:
    """Without the triangles about one of them: about a fiftieth of all."""
    middles = scan.vertices[scan.faces].mean(axis=1)
    far = np.linalg.norm(middles - middles[rng.integers(len(middles))], axis=1)
    return replace(scan, faces=scan.faces[far > np.quantile(far, 0.02)])


def turn_inside_out(scan: Scan) -> Scan:
    return replace(scan, faces=scan.faces[:, ::-1])


def mix_winding(scan: Scan) -> Scan:
    """The third of its triangles that lies lowest turned inwards."""
    height = scan.vertices[scan.faces].mean(axis=1)[:, 2]
    low = height < np.quantile(height, 1 / 3)
    faces = scan.faces.copy()
    faces[low] = faces[low][:, ::-1]
    return replace(scan, faces=faces)


def double_skin(scan: Scan) -> Scan:
    """Every triangle twice."""
    return replace(scan, faces=np.concatenate([scan.faces, scan.faces]))


def add_crumbs(scan: Scan, rng: np.random.Generator) -> Scan:
    """With three loose tetrahedra of a tenth of its size beside it: what a scanner sees of the table."""
    edge = 0.1 * size_of(scan)
    corner = edge * np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1.0]])
    sides = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    low = scan.vertices.min(axis=0)
    vertices, faces = [scan.vertices], [scan.faces]
    for i in range(3):
        faces.append(sides + len(scan.vertices) + 4 * i)
        vertices.append(corner + low - edge * (1.2 + rng.uniform(0, 0.3, 3) + i))
    return replace(scan, vertices=np.concatenate(vertices), faces=np.concatenate(faces))


def truncate(scan: Scan, rng: np.random.Generator) -> Scan:
    """The first part of its file alone, as after a broken transfer."""
    data = encode_scan(scan)
    return replace(scan, bytes_of_file=data[: int(len(data) * rng.uniform(0.3, 0.9))])


def make_empty(scan: Scan) -> Scan:
    return replace(scan, bytes_of_file=b"")


def spoil_number(scan: Scan, rng: np.random.Generator) -> Scan:
    """One co-ordinate that is not a number."""
    data = bytearray(encode_scan(scan))
    place = 84 + 50 * int(rng.integers(len(scan.faces))) + 12
    data[place : place + 4] = struct.pack("<f", float("nan"))
    return replace(scan, bytes_of_file=bytes(data))


def collapse(scan: Scan) -> Scan:
    """Every triangle drawn together to a line."""
    faces = scan.faces.copy()
    faces[:, 2] = faces[:, 1]
    return replace(scan, faces=faces)


def export_again(scan: Scan, rng: np.random.Generator) -> Scan:
    """The same surface in another format, its triangles in another order, under another name; no row names it."""
    stem = scan.file.rpartition(".")[0]
    return replace(scan, file=f"{stem}_new.ply", faces=rng.permutation(scan.faces), row=None)
