"""What lies on the disk of the quay strider: a scan an element, and its row of the element table."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import trimesh

from .animal import Element
from .solids import Array

COLUMNS = ("file", "body", "unit", "element", "series", "position", "side", "parent", "attachment", "reason", "origin")


@dataclass(frozen=True)
class Scan:
    """A file and its row.

    vertices : (n, 3) [mm]; faces : (m, 3) turning outwards
    row : as the element table has it, an empty text for nothing; None: no row names the file
    bytes_of_file : what stands in the file, where that is not simply the mesh
    """

    file: str
    vertices: Array
    faces: Array
    row: dict[str, str] | None
    bytes_of_file: bytes | None = None


def make_scan(element: Element, origin: str) -> Scan:
    """The scan of one element, in millimetres."""
    file = f"{element.name.replace(' ', '_')}.stl"
    position = "" if element.position is None else str(element.position)
    row = {
        "file": file,
        "body": "",
        "unit": "mm",
        "element": element.name,
        "series": element.series,
        "position": position,
        "side": element.side,
        "parent": element.parent,
        "attachment": element.attachment,
        "reason": element.reason,
        "origin": origin,
    }
    return Scan(file, element.vertices * 1000, element.faces, row)


def write_scans(folder: Path, scans: Iterable[Scan]) -> None:
    """Write scans/*.stl and elements.csv."""
    (folder / "scans").mkdir(parents=True, exist_ok=True)
    with (folder / "elements.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, COLUMNS)
        writer.writeheader()
        for scan in scans:
            (folder / "scans" / scan.file).write_bytes(encode_scan(scan))
            if scan.row is not None:
                writer.writerow(scan.row)


def encode_scan(scan: Scan) -> bytes:
    """What its file holds: binary STL, or PLY by its name."""
    if scan.bytes_of_file is not None:
        return scan.bytes_of_file
    mesh = trimesh.Trimesh(scan.vertices, scan.faces, process=False, validate=False)
    data = mesh.export(file_type=scan.file.rpartition(".")[2])
    return data if isinstance(data, bytes) else data.encode()
