"""The pictures that a glTF 2.0 file holds itself (section 3.8.3: in a buffer view or as a data URI): are they such?"""

from __future__ import annotations

import base64
import io
from pathlib import Path
from typing import Any

from PIL import Image


def is_picture(content: bytes) -> bool:
    """Whether a file's content is a picture of a kind that can be read."""
    try:
        with Image.open(io.BytesIO(content)) as picture:
            picture.verify()
    except Exception:  # noqa: BLE001  whatever a decoder says of it
        return False
    return True


def list_broken_pictures(path: Path, head: dict[str, Any]) -> list[str]:
    """Names of those that base colours refer to and that are no pictures. head : the file's JSON

    Pictures in files of their own are not looked at, nor what lies in a buffer of its own file.
    """
    materials = (own.get("pbrMetallicRoughness", {}) for own in head.get("materials", ()))
    textures = {own["baseColorTexture"]["index"] for own in materials if "baseColorTexture" in own}
    sources = {head["textures"][index].get("source") for index in textures} - {None}
    broken = []
    for index in sorted(sources):
        picture = head["images"][index]
        content = _read_picture(path, head, picture)
        if content is not None and not is_picture(content):
            broken.append(str(picture.get("name") or f"picture {index + 1}"))
    return broken


def _read_picture(path: Path, head: dict[str, Any], picture: dict[str, Any]) -> bytes | None:
    if "bufferView" not in picture:
        return _read_data_uri(picture.get("uri", ""))
    view = head["bufferViews"][picture["bufferView"]]
    buffer = head["buffers"][view["buffer"]]
    content = _read_data_uri(buffer["uri"]) if "uri" in buffer else _read_binary_chunk(path)
    begin = view.get("byteOffset", 0)
    return None if content is None else content[begin : begin + view["byteLength"]]


def _read_data_uri(uri: str) -> bytes | None:
    kind, _, content = uri.partition(",")
    return base64.b64decode(content) if kind.startswith("data:") and kind.endswith(";base64") else None


def _read_binary_chunk(path: Path) -> bytes:
    """What follows the JSON of a GLB file: a head of 12 bytes, then chunks, each with its length and kind before it."""
    with path.open("rb") as stream:
        stream.seek(12)
        stream.seek(20 + int.from_bytes(stream.read(4), "little"))
        length = int.from_bytes(stream.read(4), "little")
        stream.seek(4, io.SEEK_CUR)
        return stream.read(length)
