"""Reading surfaces from STL, PLY, OBJ and GLB/glTF files, text and binary.

Co-ordinates keep the file's axes and are multiplied by the unit; glTF alone, which is y up by its specification, is
turned to z up: (x, y, z) becomes (x, -z, y). A glTF file is in metres by specification; the survey proposes that unit.
"""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray

from ..spatial.errors import MeshFileError
from .surface import Surface

SUFFIXES = (".stl", ".ply", ".obj", ".glb", ".gltf")
UNITS_M = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254, "ft": 0.3048}
"""Length of every unit that a table may name [m]."""

_STEP = b"ISO-10303-21"
_EXPORT_AGAIN = "export it again from where it came from, or take it out of the folder"
_STL_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def list_mesh_files(folder: Path) -> tuple[Path, ...]:
    """Every mesh file in a folder and its sub-folders, sorted by name.

    Raises
    ------
    MeshFileError : there is no such folder, or a link in it leads out of it
    """
    if not folder.is_dir():
        raise MeshFileError(str(folder), "there is no such folder", "name the folder that holds the mesh files")
    names = []
    for where, folders, files in os.walk(folder):
        folders.sort()
        names += [Path(where, name).relative_to(folder).as_posix() for name in files]
    names = sorted(name for name in names if name.lower().endswith(SUFFIXES))
    return tuple(find_mesh_file(folder, name) for name in names)


def find_mesh_file(folder: Path, file: str) -> Path:
    """The path of a file named relative to a mesh folder; it must lie in it.

    Raises
    ------
    MeshFileError : the name is absolute, holds `..`, leads out of the folder through a link, or is not there
    """
    if not is_inside(file):
        raise MeshFileError(
            file or "(no name)", "it does not lie in the mesh folder", "name it relative to that folder"
        )
    path = folder / file
    if not path.resolve().is_relative_to(folder.resolve()):
        raise MeshFileError(file, "a link leads out of the mesh folder", "copy the file into the folder")
    if not path.is_file():
        raise MeshFileError(file, f"there is no such file in {folder}", "correct the name, or copy the file there")
    return path


def is_inside(file: str) -> bool:
    """Whether a name, on any system, is relative and climbs out of no folder."""
    posix, windows = PurePosixPath(file), PureWindowsPath(file)
    absolute = posix.is_absolute() or bool(windows.drive or windows.root)
    return bool(file) and not absolute and "\0" not in file and ".." not in (*posix.parts, *windows.parts)


def hash_file(path: Path) -> str:
    """SHA-256 of a file's bytes, in hexadecimal; read in pieces."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def read_surface(path: Path, unit_m: float) -> Surface:
    """The triangles of a file as they are, scene transforms applied, polygons cut into triangles [m].

    Raises
    ------
    MeshFileError : the file is missing, empty, truncated, not a mesh, without triangles, or its numbers are not finite
    """
    name = path.name
    if path.suffix.lower() not in SUFFIXES:
        raise MeshFileError(name, "it is not STL, PLY, OBJ, GLB or glTF", "export it to one of these formats")
    try:
        size = path.stat().st_size
        vertices, faces = (np.empty((0, 3)), np.empty((0, 3), np.int64)) if size == 0 else _load(path, size)
    except MeshFileError:
        raise
    except OSError as error:
        what = f"it cannot be opened ({error.strerror})"
        raise MeshFileError(name, what, "check that it is there and may be read") from error
    except MemoryError as error:
        raise MeshFileError(name, "it does not fit into memory", "close other programs, or split it") from error
    except Exception as error:
        what = f"it is truncated or not a mesh of its kind ({type(error).__name__}: {error})".rstrip(".")
        raise MeshFileError(name, " ".join(what.split())[:300], _EXPORT_AGAIN) from error
    if size == 0:
        raise MeshFileError(name, "the file is empty (0 bytes)", _EXPORT_AGAIN)
    return _check_surface(name, vertices, faces, unit_m)


def _check_surface(name: str, vertices: NDArray[Any], faces: NDArray[Any], unit_m: float) -> Surface:
    """A surface whose indices and numbers hold."""
    faces = np.ascontiguousarray(faces, dtype=np.int64)
    if not len(faces) or not len(vertices):
        raise MeshFileError(name, "it holds no triangles", _EXPORT_AGAIN)
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise MeshFileError(name, "a face names a vertex that is not there", _EXPORT_AGAIN)
    points = np.asarray(vertices, float) * unit_m
    if not np.isfinite(points).all():
        used = points[faces.ravel()]
        if not np.isfinite(used).all():
            raise MeshFileError(name, "some co-ordinates are not finite numbers (NaN or infinite)", _EXPORT_AGAIN)
        points = np.where(np.isfinite(points), points, 0.0)  # a vertex no face uses
    return Surface(points, faces)


def _load(path: Path, size: int) -> tuple[NDArray[Any], NDArray[Any]]:
    """Vertices and triangles in the file's own unit; any error means that the file is not sound."""
    kind = path.suffix.lower()
    if kind == ".stl":
        return _load_stl(path, size)
    if kind in (".glb", ".gltf"):
        return _load_gltf(path)
    announced = _count_ply_faces(path, size) if kind == ".ply" else 0
    with path.open("rb") as stream:
        loaded = trimesh.load(stream, file_type=kind[1:], process=False, maintain_order=True, skip_materials=True)
    vertices, faces = _join(loaded)
    if len(faces) < announced:
        raise ValueError(f"its header announces {announced} faces, it holds {len(faces)}")
    return vertices, faces


def _join(loaded: Any) -> tuple[NDArray[Any], NDArray[Any]]:
    """Vertices and triangles of all meshes of what trimesh loaded, with the scene's transforms applied."""
    parts = loaded.dump() if isinstance(loaded, trimesh.Scene) else [loaded]
    meshes = [part for part in parts if isinstance(part, trimesh.Trimesh) and len(part.faces)]
    if not meshes:
        return np.empty((0, 3)), np.empty((0, 3), np.int64)
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    vertices = np.concatenate([np.asarray(mesh.vertices) for mesh in meshes])
    faces = np.concatenate([np.asarray(mesh.faces) + start for mesh, start in zip(meshes, starts, strict=False)])
    for mesh in meshes:
        if np.min(mesh.faces) < 0 or np.max(mesh.faces) >= len(mesh.vertices):
            raise ValueError("a face names a vertex that is not there")
    return vertices, faces


def _load_stl(path: Path, size: int) -> tuple[NDArray[Any], NDArray[Any]]:
    with path.open("rb") as stream:
        head = stream.read(84)
    count = int.from_bytes(head[80:84], "little") if len(head) == 84 else -1
    if size == 84 + 50 * count:
        corners = np.fromfile(path, _STL_RECORD, count, offset=84)["corners"].reshape(-1, 3)
    elif head.lstrip()[:5].lower() == b"solid" and b"\0" not in head:
        corners = _load_text_stl(path)
    else:
        if head.startswith(_STEP):
            what = "it is a STEP file, a solid model and no mesh"
            raise MeshFileError(path.name, what, "export its surface as STL, PLY, OBJ or GLB")
        if len(head) < 84:
            what = f"not an STL file: it has {size} bytes, a header alone takes 84"
            raise MeshFileError(path.name, what, _EXPORT_AGAIN)
        says = f"its header announces {count} triangles, its size fits {max(0, size - 84) // 50}"
        raise MeshFileError(path.name, f"truncated, or not an STL file: {says}", _EXPORT_AGAIN)
    return corners, np.arange(len(corners)).reshape(-1, 3)


def _load_text_stl(path: Path) -> NDArray[Any]:
    """Corners (3 n, 3) of a text STL file; line by line, so that the text is never in memory as a whole."""
    corners: list[float] = []
    facets, open_solids = 0, 0
    blocks = []
    with path.open(encoding="utf-8", errors="replace") as stream:
        for line in stream:
            words = line.split()
            key = words[0].lower() if words else ""
            if key == "vertex":
                x, y, z = words[1:4]
                corners += (float(x), float(y), float(z))
            elif key == "endfacet":
                facets += 1
                if facets % 100000 == 0:
                    blocks.append(np.array(corners))
                    corners = []
            elif key in ("solid", "endsolid"):
                open_solids += 1 if key == "solid" else -1
    points = np.concatenate([*blocks, np.array(corners)]).reshape(-1, 3)
    if open_solids > 0 or len(points) != 3 * facets:
        raise MeshFileError(path.name, "truncated: the text ends within a facet or before `endsolid`", _EXPORT_AGAIN)
    return points


def _count_ply_faces(path: Path, size: int) -> int:
    """How many faces a PLY file's header announces; a file shorter than its header announces is refused."""
    head = b""
    with path.open("rb") as stream:
        for line in stream:
            head += line
            if line.strip() == b"end_header" or len(head) > 65536:
                break
    if not head.startswith(b"ply") or b"end_header" not in head:
        raise MeshFileError(path.name, "not a PLY file: it has no PLY header", _EXPORT_AGAIN)
    words = [line.split() for line in head.splitlines()]
    counts = {line[1]: int(line[2]) for line in words if len(line) == 3 and line[0] == b"element"}
    if sum(counts.values()) > size - len(head):
        raise MeshFileError(path.name, "truncated: it holds fewer items than its header announces", _EXPORT_AGAIN)
    return counts.get(b"face", 0)


class FolderResolver(trimesh.resolvers.Resolver):
    """Gives a file the buffers, materials and pictures that lie in its own folder, and nothing else."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def get(self, name: str) -> bytes:
        return find_mesh_file(self.folder, name).read_bytes()

    def write(self, name: str, data: Any) -> None:
        raise PermissionError(f"{name}: reading never writes")

    def namespaced(self, namespace: str) -> FolderResolver:
        return FolderResolver(self.folder / namespace)

    def keys(self) -> list[str]:
        return []


def _load_gltf(path: Path) -> tuple[NDArray[Any], NDArray[Any]]:
    if path.suffix.lower() == ".gltf":
        json.loads(path.read_text(encoding="utf-8"))  # the loader would look for another file instead
    with path.open("rb") as stream:
        loaded = trimesh.load_scene(
            stream,
            file_type=path.suffix.lower()[1:],
            resolver=FolderResolver(path.parent),
            process=False,
            skip_materials=True,
            merge_primitives=False,
        )
    vertices, faces = _join(loaded)
    return turn_z_up(vertices), faces


def turn_z_up(y_up: NDArray[Any]) -> NDArray[np.float64]:
    """Points (n, 3) of a glTF file, which is y up, with z up."""
    points = np.asarray(y_up, float)
    return np.stack([points[:, 0], -points[:, 2], points[:, 1]], axis=1)
