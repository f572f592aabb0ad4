"""The whole skeleton as one binary glTF 2.0 file (ISO/IEC 12113): metres, y up, one node an element.

The geometry is written once, element by element, in element frames; each pose is the same geometry under other node
transforms. So no more than one element is in memory, and all poses share the work.
"""

from __future__ import annotations

import json
import shutil
import struct
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from ..mesh.surface import Surface
from ..spatial.errors import OutputError
from ..spatial.transforms import Array

_FLOAT, _UINT = 5126, 5125
_VERTICES, _INDICES = 34962, 34963
_Y_UP = [1, 0, 0, 0, 0, 0, -1, 0, 0, 1, 0, 0, 0, 0, 0, 1]
"""World (x, y, z) to glTF (x, z, -y), column by column."""
_GREATEST_BYTES = 2**32 - 1


@dataclass
class GlbGeometry:
    """The geometry of a GLB while it is being written: where its bytes go, and what lies where.

    triangles : written so far
    """

    path: Path
    views: list[dict[str, Any]] = field(default_factory=list)
    accessors: list[dict[str, Any]] = field(default_factory=list)
    meshes: dict[str, dict[str, Any]] = field(default_factory=dict)
    size: int = 0
    triangles: int = 0

    def append(self, name: str, surface_E: Surface) -> None:
        """Add one element's surface, in its own frame [m]; an element without triangles becomes a bare node."""
        if not len(surface_E.faces):
            return
        positions = surface_E.vertices.astype("<f4")
        bounds = {"min": positions.min(axis=0).tolist(), "max": positions.max(axis=0).tolist()}
        with self.path.open("ab") as file:
            attributes = {
                "POSITION": self._put(file, positions, "VEC3", _FLOAT, _VERTICES, bounds),
                "NORMAL": self._put(file, vertex_normals(surface_E).astype("<f4"), "VEC3", _FLOAT, _VERTICES, {}),
            }
            corners = surface_E.faces.astype("<u4").reshape(-1)
            indices = self._put(file, corners, "SCALAR", _UINT, _INDICES, {})
        primitive = {"attributes": attributes, "indices": indices, "material": 0, "mode": 4}
        self.meshes[name] = {"name": name, "primitives": [primitive]}
        self.triangles += len(surface_E.faces)

    def _put(
        self, file: BinaryIO, values: np.ndarray, kind: str, component: int, target: int, bounds: dict[str, Any]
    ) -> int:
        """Write one array (every one of them a multiple of four bytes) and return the number of its accessor."""
        file.write(np.ascontiguousarray(values).tobytes())
        self.views.append({"buffer": 0, "byteOffset": self.size, "byteLength": values.nbytes, "target": target})
        accessor = {"bufferView": len(self.views) - 1, "componentType": component, "count": len(values), "type": kind}
        self.accessors.append(accessor | bounds)
        self.size += values.nbytes
        return len(self.accessors) - 1


def vertex_normals(surface: Surface) -> Array:
    """(n, 3) unit normals at the vertices, triangles weighed by area; (0, 0, 1) where there is none."""
    corners = surface.vertices[surface.faces]
    face_normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals = np.empty_like(surface.vertices)
    for axis in range(3):
        weights = np.repeat(face_normals[:, axis], 3)
        normals[:, axis] = np.bincount(surface.faces.reshape(-1), weights, minlength=len(normals))
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    unit: Array = np.where(lengths > 0, normals / np.where(lengths > 0, lengths, 1), (0.0, 0.0, 1.0))
    return unit


def write_glb(path: Path, geometry: GlbGeometry, names: list[str], X_WE: Array, scene: str, generator: str) -> None:
    """Write the GLB of one pose.

    Parameters
    ----------
    names : of all elements; one whose geometry was not appended becomes a bare node
    X_WE : (n, 4, 4) from each element's frame to the world
    scene : name of the scene and of the node that turns the world's z up into y up

    Raises
    ------
    OutputError : more than the 4 GiB that the format can hold
    """
    text = json.dumps(_describe_scene(geometry, names, X_WE, scene, generator), ensure_ascii=False).encode()
    text += b" " * (-len(text) % 4)
    total = 12 + 8 + len(text) + (8 + geometry.size if geometry.size else 0)
    if total > _GREATEST_BYTES:
        raise OutputError(path.name, "the whole is larger than the 4 GiB of a GLB", "reduce the triangles")
    with path.open("wb") as file:
        file.write(struct.pack("<4sII", b"glTF", 2, total))
        file.write(struct.pack("<I4s", len(text), b"JSON") + text)
        if geometry.size:
            file.write(struct.pack("<I4s", geometry.size, b"BIN\0"))
            with geometry.path.open("rb") as source:
                shutil.copyfileobj(source, file, 1 << 20)


def _describe_scene(geometry: GlbGeometry, names: list[str], X_WE: Array, scene: str, generator: str) -> dict[str, Any]:
    nodes: list[dict[str, Any]] = []
    numbers = {name: number for number, name in enumerate(geometry.meshes)}
    for name, X in zip(names, X_WE, strict=True):
        node: dict[str, Any] = {"name": name, "matrix": X.T.reshape(-1).tolist()}
        if name in numbers:
            node["mesh"] = numbers[name]
        nodes.append(node)
    root = {"name": scene, "matrix": _Y_UP, "children": list(range(len(nodes)))}
    surface = {"baseColorFactor": [0.62, 0.52, 0.38, 1.0], "metallicFactor": 0.0, "roughnessFactor": 0.7}
    description: dict[str, Any] = {
        "asset": {"version": "2.0", "generator": generator},
        "scene": 0,
        "scenes": [{"name": scene, "nodes": [len(nodes)]}],
        "nodes": [*nodes, root],
    }
    if geometry.meshes:
        description |= {
            "meshes": list(geometry.meshes.values()),
            "accessors": geometry.accessors,
            "bufferViews": geometry.views,
            "buffers": [{"byteLength": geometry.size}],
            "materials": [{"name": "casting", "pbrMetallicRoughness": surface, "doubleSided": True}],
        }
    return description
