"""What a survey of a folder of mesh files found, as values: no surface is kept, only figures and a few points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..spatial.transforms import Array
from .made_files import MadeMark
from .shape import Shape
from .solid import Solid

FileState = Literal["read", "empty", "unreadable"]
BodyName = tuple[str, int | None]
"""File, relative to the mesh folder, and number of the body in it; None for the whole file."""


@dataclass(frozen=True, eq=False)
class BodyRecord:
    """One body of a file, or the whole of it.

    number : from 1 in the file's order (see mesh.bodies); None for the whole file
    points_m : (k, 3) vertices spread over the surface, to judge by who lies next to whom
    samples_m : (k, 3) points spread evenly by area, to compare shapes by
    shape : what of it does not depend on where it stands
    duplicate_of : the file and body whose geometry it repeats in the same place, if any
    """

    number: int | None
    solid: Solid
    points_m: Array
    samples_m: Array
    shape: Shape
    duplicate_of: BodyName | None = None


@dataclass(frozen=True, eq=False)
class FileRecord:
    """One file of the folder.

    file : relative to the folder, forward slashes
    unit : what its co-ordinates were taken to be in
    problem : why it could not be used, in words; empty where it could
    whole : the file as one element; None where it could not be used
    bodies : in the file's order
    made : what it says of itself where it was made here of another element; None of a scan
    """

    file: str
    sha256: str
    unit: str
    state: FileState
    problem: str
    whole: BodyRecord | None
    bodies: tuple[BodyRecord, ...]
    made: MadeMark | None = None


@dataclass(frozen=True, eq=False)
class Survey:
    """Every mesh file of a folder, sorted by name; unit is the one that was declared for the folder."""

    unit: str
    files: tuple[FileRecord, ...]

    def find(self, file: str, body: int | None) -> BodyRecord | None:
        """The record of a body, or of a whole file for None; None where there is none."""
        for record in self.files:
            if record.file == file:
                if body is None:
                    return record.whole
                return record.bodies[body - 1] if 1 <= body <= len(record.bodies) else None
        return None

    def find_mark(self, file: str) -> MadeMark | None:
        """What a file says of itself where it was made here; None of a scan, or where there is no such file."""
        return next((record.made for record in self.files if record.file == file), None)


def describe_body(file: str, body: int | None) -> str:
    """File and body as a reader names them."""
    return file if body is None else f"{file}, body {body}"
