"""Files of surfaces that were made here of others: binary PLY in double precision, which say so in their header."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from ..spatial.errors import OutputError
from .surface import Surface

FOLDER = "made"
"""Within the mesh folder."""
_COMMENT = b"comment counterpoise "
_HEAD = 65536
_FACE = np.dtype([("count", "u1"), ("corners", "<i4", 3)])


@dataclass(frozen=True)
class MadeMark:
    """What a file says of itself: how it was made, of which element, and of which file's bytes (SHA-256)."""

    origin: str
    made_from: str
    source_sha256: str


def write_made(mesh_folder: Path, name: str, surface: Surface, unit_m: float, mark: MadeMark) -> str:
    """Write a surface into the folder of what was made; its name, relative to the mesh folder with forward slashes.

    Never over a file that is there: one that is the same byte for byte is taken, beside another the new one gets a
    number. Written beside its place and renamed.

    Parameters
    ----------
    name : of the element; surface : in the file's axes [m]; unit_m : length of the unit that the file is to be in

    Raises
    ------
    OutputError : it cannot be written there
    """
    content = _make_content(surface, unit_m, mark)
    stem = re.sub(r"[^\w. -]", "_", name).strip(". ") or "bone"
    folder = mesh_folder / FOLDER
    number = 1
    try:
        folder.mkdir(exist_ok=True)
        while True:
            path = folder / (f"{stem}.ply" if number == 1 else f"{stem}-{number}.ply")
            if not path.exists():
                break
            if path.is_file() and path.read_bytes() == content:
                return f"{FOLDER}/{path.name}"
            number += 1
        beside = path.with_name(f".{path.name}.{os.getpid()}.part")
        try:
            with beside.open("xb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            os.replace(beside, path)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as error:
        what = f"the bone's surface cannot be written there: {error.strerror or error}"
        raise OutputError(str(folder), what, "make the mesh folder writable") from error
    return f"{FOLDER}/{path.name}"


def read_mark(path: Path) -> MadeMark | None:
    """What a file says of itself; None where it does not say that it was made here."""
    if path.suffix.lower() != ".ply":
        return None
    with path.open("rb") as file:
        head = file.read(_HEAD)
    lines = head.split(b"end_header", 1)[0].splitlines() if head.startswith(b"ply") else []
    told = next((line[len(_COMMENT) :] for line in lines if line.startswith(_COMMENT)), None)
    if told is None:
        return None
    try:
        return MadeMark(**json.loads(told))
    except (ValueError, TypeError):
        return None


@contextmanager
def together(mesh_folder: Path) -> Iterator[None]:
    """What is made within stays only where nothing fails: file and document together, or neither."""
    folder = mesh_folder / FOLDER
    there, before = folder.is_dir(), set(folder.glob("*.ply"))
    try:
        yield
    except BaseException:
        for path in set(folder.glob("*.ply")) - before:
            path.unlink(missing_ok=True)
        if not there and folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()
        raise


def _make_content(surface: Surface, unit_m: float, mark: MadeMark) -> bytes:
    told = json.dumps(asdict(mark), ensure_ascii=True, sort_keys=True)
    head = (
        "ply\nformat binary_little_endian 1.0\n"
        f"{_COMMENT.decode()}{told}\n"
        f"element vertex {len(surface.vertices)}\nproperty double x\nproperty double y\nproperty double z\n"
        f"element face {len(surface.faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    faces = np.empty(len(surface.faces), _FACE)
    faces["count"], faces["corners"] = 3, surface.faces
    return head.encode("ascii") + np.asarray(surface.vertices / unit_m, "<f8").tobytes() + faces.tobytes()
