"""Surface colours of mesh files: of vertices, of faces, of materials, of textures. For display alone.

All are returned as they are to look on a screen (sRGB, IEC 61966-2-1). What glTF 2.0 gives in linear values (its
COLOR_0 and base colour factor; sections 3.7.2.1 and 3.9.2) is taken there; PLY and OBJ do not say what theirs are, and
are taken as sRGB (common practice, no source). STL has no colours that two programs read alike.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray
from scipy.spatial import KDTree
from trimesh.visual.color import uv_to_color

from .gltf_pictures import is_picture, list_broken_pictures
from .reading import FolderResolver, turn_z_up

HEAD_BYTES = 65536
"""So much of a text file is looked through for a sign of colours."""

PICTURES = (".png", ".jpg", ".jpeg", ".webp", ".bmp", ".tif", ".tiff", ".tga")
"""Files that are taken for pictures by their names."""

Colours = NDArray[np.float64]
"""(n, 3) red, green, blue from 0 to 1, sRGB."""


@dataclass(frozen=True, eq=False)
class ColouredPoints:
    """Points (n, 3) of a file's surface [m], in its axes as `read_surface` gives them, and their colours (n, 3)."""

    points: NDArray[np.float64]
    colours: Colours


class _NotingResolver(FolderResolver):
    """Notes which materials and pictures are not there, or are no pictures, which the loader passes over."""

    def __init__(self, folder: Path, lacking: list[str]) -> None:
        super().__init__(folder)
        self.lacking = lacking

    def get(self, name: str) -> bytes:
        try:
            content = super().get(name)
        except Exception:
            self.lacking.append(name)
            raise
        if Path(name).suffix.lower() in PICTURES and not is_picture(content):
            self.lacking.append(name)
        return content


def read_colours(path: Path, unit_m: float, faults: list[str] | None = None) -> ColouredPoints | None:
    """The colours of a file; None where it has none, or they cannot be read: materials or pictures are not there.

    faults : gets why they, or some of them, could not be read
    A texture is seen where the mesh has vertices: what it shows between them is lost.
    """
    faults = [] if faults is None else faults
    lacking: list[str] = []
    try:
        if not has_colours(path):
            return None
        parts = _load_parts(path, lacking)
        if _is_gltf(path):
            lacking += list_broken_pictures(path, _read_gltf_head(path))
        found = [own for part in parts if (own := _colour_part(part, path)) is not None]
    except Exception as error:  # noqa: BLE001  the shape was read and counts; whatever a picture holds, it is shown plain
        faults.append(f"{type(error).__name__}: {error}")
        return None
    if lacking:
        faults.append(f"{', '.join(dict.fromkeys(lacking))} cannot be found or read")
    if not found:
        return None
    points = np.concatenate([own for own, _ in found]) * unit_m
    colours = np.concatenate([own for _, own in found])
    sound = np.isfinite(points).all(axis=1)
    turned = turn_z_up(points) if _is_gltf(path) else points
    return ColouredPoints(turned[sound], colours[sound]) if sound.any() else None


def has_colours(path: Path) -> bool:
    """Whether a file says that it has colours, by its head alone: most scans have none and are not read twice."""
    kind = path.suffix.lower()
    if kind in (".glb", ".gltf"):
        return _has_gltf_colours(_read_gltf_head(path))
    if kind not in (".ply", ".obj"):
        return False
    with path.open("rb") as stream:
        head = stream.read(HEAD_BYTES)
    if kind == ".ply":
        return b" red\n" in head.partition(b"end_header")[0].replace(b"\r", b"")
    lines = head.splitlines()
    corner = next((line.split() for line in lines if line.startswith(b"v ")), [])
    return len(corner) >= 7 or any(line.startswith(b"mtllib") for line in lines)


def pick_colours(of: ColouredPoints, points: NDArray[np.float64]) -> Colours:
    """The colour nearest to each point (n, 3) [m]."""
    _, nearest = KDTree(of.points).query(points)
    picked: Colours = of.colours[nearest]
    return picked


def _is_gltf(path: Path) -> bool:
    return path.suffix.lower() in (".glb", ".gltf")


def _read_gltf_head(path: Path) -> dict[str, Any]:
    if path.suffix.lower() == ".gltf":
        return dict(json.loads(path.read_text(encoding="utf-8")))
    with path.open("rb") as stream:
        length = int.from_bytes(stream.read(16)[12:16], "little")
        stream.seek(20)
        return dict(json.loads(stream.read(length)))


def _has_gltf_colours(head: dict[str, Any]) -> bool:
    pieces = [piece for mesh in head.get("meshes", ()) for piece in mesh.get("primitives", ())]
    surfaces = [material.get("pbrMetallicRoughness", {}) for material in head.get("materials", ())]
    return any("COLOR_0" in piece.get("attributes", {}) for piece in pieces) or any(
        "baseColorTexture" in own or "baseColorFactor" in own for own in surfaces
    )


def _load_parts(path: Path, lacking: list[str]) -> list[trimesh.Trimesh]:
    with path.open("rb") as stream:
        loaded = trimesh.load_scene(
            stream, file_type=path.suffix.lower()[1:], resolver=_NotingResolver(path.parent, lacking), process=False
        )
    return [part for part in loaded.dump() if isinstance(part, trimesh.Trimesh) and len(part.faces)]


def _colour_part(part: trimesh.Trimesh, path: Path) -> tuple[NDArray[np.float64], Colours] | None:
    """Points and colours of one mesh of a file; None where it has no colours."""
    visual: Any = part.visual
    vertices = np.asarray(part.vertices, float)
    if visual.kind == "face":
        return vertices[part.faces].mean(axis=1), _as_shares(visual.face_colors)
    if visual.kind == "vertex":
        own = _as_shares(visual.vertex_colors)
        return vertices, encode_srgb(own) if _is_gltf(path) else own
    if visual.kind != "texture":
        return None
    painted = _paint(visual, len(vertices), path)
    return None if painted is None else (vertices, painted)


def _paint(visual: Any, count: int, path: Path) -> Colours | None:
    """(count, 3) of a material: its picture where the vertices lie in it, times its colour and theirs."""
    material = visual.material
    image = getattr(material, "baseColorTexture", None) or getattr(material, "image", None)
    factor = getattr(material, "baseColorFactor", None)
    own = visual.vertex_attributes.get("color")
    if image is not None and visual.uv is not None and len(visual.uv) == count:
        shown = decode_srgb(_as_shares(uv_to_color(visual.uv, image)))
    elif _is_gltf(path):
        if factor is None and own is None:
            return None
        shown = np.ones((count, 3))
    elif getattr(material, "kwargs", {}).get("kd") is not None or "newmtl" in getattr(material, "kwargs", {}):
        return np.tile(_as_shares([material.diffuse])[0], (count, 1))
    else:
        return None
    if _is_gltf(path):
        shown = shown * (1.0 if factor is None else _as_shares([factor])[0])
        shown = shown * (1.0 if own is None else _as_shares(own))
    return encode_srgb(shown)


def _as_shares(colours: Any) -> Colours:
    """(n, 3) from 0 to 1 of (n, 3 or 4), whole numbers up to their type's greatest or shares already."""
    given = np.asarray(colours)
    most = float(np.iinfo(given.dtype).max) if given.dtype.kind in "ui" else 1.0
    shares: Colours = np.clip(given[:, :3].astype(float) / most, 0.0, 1.0)
    return shares


def encode_srgb(linear: Colours) -> Colours:
    """Linear values as a screen is given them (IEC 61966-2-1)."""
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 0.0) ** (1 / 2.4) - 0.055)


def decode_srgb(shown: Colours) -> Colours:
    """The other way about."""
    return np.where(shown <= 0.04045, shown / 12.92, ((shown + 0.055) / 1.055) ** 2.4)
