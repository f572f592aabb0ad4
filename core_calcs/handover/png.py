"""Pictures inside a page: PNG (ISO/IEC 15948), eight bits a channel with opacity, as a data address."""

from __future__ import annotations

import base64
import struct
import zlib

import numpy as np

from ..studies.pose_pictures import Pixels


def encode_png(picture: Pixels) -> bytes:
    """A picture as a PNG file; what is fully clear has no colour of its own."""
    bytes_of = np.clip(np.rint(picture * 255), 0, 255).astype(np.uint8)
    bytes_of[bytes_of[..., 3] == 0] = 0
    rows, columns = bytes_of.shape[:2]
    lines = np.concatenate([np.zeros((rows, 1), np.uint8), bytes_of.reshape(rows, -1)], axis=1)
    head = struct.pack(">IIBBBBB", columns, rows, 8, 6, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(lines.tobytes(), 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_make_chunk(name, data) for name, data in parts)


def _make_chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def make_address(picture: Pixels) -> str:
    """A picture as the address of an image that holds it."""
    return f"data:image/png;base64,{base64.b64encode(encode_png(picture)).decode('ascii')}"
