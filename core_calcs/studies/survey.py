"""Surveying a folder of mesh files, and counting what a table makes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from ..mesh.bodies import merge_vertices, split_bodies
from ..mesh.duplicates import mark_duplicates
from ..mesh.made_files import read_mark
from ..mesh.reading import UNITS_M, hash_file, list_mesh_files, read_surface
from ..mesh.records import FileRecord, Survey
from ..mesh.survey import join_pieces, make_record, survey_piece
from ..spatial.errors import MeshFileError
from ..spatial.progress import Progress, ignore_progress

GLTF_UNIT = "m"
"""glTF 2.0, 3.4: units for all linear distances are metres."""


def survey_folder(
    folder: Path, unit: str = "mm", progress: Progress = ignore_progress, units: Mapping[str, str] | None = None
) -> Survey:
    """Look at every mesh file of a folder, one at a time in memory.

    Parameters
    ----------
    unit : what the files' co-ordinates are in ("mm", "m", …); glTF files are in metres by specification
    units : by file, relative to the folder, where a table says otherwise

    Raises
    ------
    MeshFileError : no such folder, no mesh file in it, unknown unit. A file that cannot be used does not raise: its
        record says why.
    """
    units = units or {}
    for name in (unit, *units.values()):
        if name not in UNITS_M:
            raise MeshFileError(str(folder), f"unknown unit {name!r}", f"use one of {', '.join(UNITS_M)}")
    paths = list_mesh_files(folder)
    if not paths:
        raise MeshFileError(str(folder), "it holds no STL, PLY, OBJ, GLB or glTF file", "name the folder of the scans")
    records = []
    for i, path in enumerate(paths):
        name = path.relative_to(folder).as_posix()
        progress(f"surveying {name}", i / len(paths))
        by_format = GLTF_UNIT if path.suffix.lower() in (".glb", ".gltf") else unit
        declared = units.get(name, by_format)
        records.append(survey_file(path, name, declared))
    progress("looking for duplicates", 1.0)
    return Survey(unit, mark_duplicates(tuple(records)))


def survey_file(path: Path, name: str, unit: str) -> FileRecord:
    """The record of one file; one that cannot be used is recorded as such."""
    try:
        sha256 = hash_file(path)
        bodies = split_bodies(merge_vertices(read_surface(path, UNITS_M[unit])))
    except OSError as error:
        return FileRecord(name, "", unit, "unreadable", f"{name}: it cannot be opened ({error.strerror}).", None, ())
    except MeshFileError as error:
        empty = path.stat().st_size == 0
        return FileRecord(name, sha256, unit, "empty" if empty else "unreadable", str(error), None, ())
    if not bodies:
        problem = f"{name}: every triangle is collapsed to a line. Export it again."
        return FileRecord(name, sha256, unit, "empty", problem, None, ())
    pieces = [survey_piece(body) for body in bodies]
    records = tuple(make_record(number, *piece) for number, piece in enumerate(pieces, start=1))
    whole = replace(records[0], number=None) if len(pieces) == 1 else make_record(None, *join_pieces(pieces))
    return FileRecord(name, sha256, unit, "read", "", whole, records, read_mark(path))
